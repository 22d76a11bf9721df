import { fall, rise } from '../../safety/ramp.js';
import { mappingsOf } from '../../show/model/basis.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { mapInParts } from '../../stage/in-parts.js';
import type { CueLook, Cues } from '../cues/cues.js';
import { blankWatched, type Watched, type WatchedPerformer } from '../people/watch.js';
import { believedOf, KIND, type Lights } from '../values/lights.js';

/**
 * Where the light of one performer, or of a mapping that depends on signals, is between safe (0) and live (1), for
 * the fixtures that share a fade time. Without a fade time of their own it is the ramp of the performer's watchdog.
 */
export interface Crossfade {
  /** Index in `Watched.believed`. */
  readonly performer: number;
  /** Live to safe, seconds; undefined: the time of the cause. */
  readonly fadeS: number | undefined;
  /** Of the ramp alone. */
  ramp: number;
  /** How far it counts here, 0..1: 0 if the cue has all of its mappings off. */
  says: number;
  /** How far its light is from safe to live: the ramp, as far as it counts. */
  level: number;
  /** Mappings through which it counts; not used in a show without cues. */
  readonly mappings: readonly number[];
  /** During a crossfade between cues: whether it counts in each of them. */
  readonly saysIn: boolean[];
}

/** The crossfades on which a fixture depends; fixtures with the same performers and fade time share one group. */
export interface CrossfadeGroup {
  readonly crossfades: readonly Crossfade[];
  /** Index of the performer or mapping of each. */
  readonly byBeliever: ReadonlyMap<number, Crossfade>;
  /** Lowest and highest of them in this tick. */
  lowest: number;
  highest: number;
  /** The same in each of the cues of a crossfade; the values above are made of them. */
  readonly lowestIn: number[];
  readonly highestIn: number[];
  /** Counts how often they were updated. */
  looks: number;
}

/** One of the cues between which there is a crossfade. */
export interface Blended {
  /** Its share of the light, 0..1; the shares add up to 1. */
  readonly weight: number;
  /** For each mapping how far it acts there; then the values of each channel. */
  readonly levels: Float64Array;
  readonly base: Float64Array;
  readonly safe: Float64Array;
}

/** What can be skipped in this tick; an engine that takes over begins with nothing to skip. */
interface Rest {
  /** For each owner 1 if all of their crossfades stand at an end, and stay there while their inputs are unchanged. */
  readonly settled: Uint8Array;
  /** Their inputs then, and 1 if any of their light showed. */
  readonly trust: Float64Array;
  readonly known: Uint8Array;
  readonly shows: Uint8Array;
  /** For each group 1 if one of its crossfades was updated in this tick. */
  readonly dirty: Uint8Array;
}

export interface Crossfades {
  /** Empty except during a crossfade between cues. */
  blend: readonly Blended[];
  readonly all: readonly Crossfade[];
  readonly groups: readonly CrossfadeGroup[];
  /** For each owner (as in `Watched.believed`): their crossfades, and the groups these are in. */
  readonly byBeliever: readonly { readonly mine: Crossfade[]; readonly groups: Set<number> }[];
  readonly rest: Rest;
  /** How many performers there are: the mappings come after them. */
  readonly performers: number;
  /** For each light; undefined if no mapping touches it, unless it moves between cues. */
  readonly ofLight: readonly (CrossfadeGroup | undefined)[];
  /** Stands for the drivers of a light that nobody drives. */
  readonly nobody: WatchedPerformer;
}

export function* createCrossfades(
  show: Show,
  { plans, believes, kind }: Lights,
): Generator<undefined, Crossfades> {
  const all = new Map<string, Crossfade>();
  const groups = new Map<string, CrossfadeGroup>();
  const groupOf = ({ fadeS }: FixturePlan, light: number): CrossfadeGroup | undefined => {
    const performers = believes[light] ?? [];
    if (performers.length === 0 && kind[light] !== KIND.moving) return undefined;
    const mappings = show.cues.length === 0 ? NONE : believedBy(show, light);
    const keys = performers.map((performer): [key: string, mappings: readonly number[]] => {
      const by = mappings.get(performer) ?? [];
      return [`${performer}/${fadeS}/${by.join(',')}`, by];
    });
    return shared(groups, keys.map(([key]) => key).join(' '), () => {
      const crossfades = performers.map((performer, i) => {
        const [key, mappings] = keys[i] as (typeof keys)[number];
        const fresh = { performer, fadeS, mappings, saysIn: [], ramp: 0, says: 1, level: 0 };
        return shared(all, key, () => fresh);
      });
      const byBeliever = new Map<number, Crossfade>();
      for (const one of crossfades) byBeliever.set(one.performer, one);
      const none = { lowest: 0, highest: 0, lowestIn: [], highestIn: [], looks: 0 };
      return { crossfades, byBeliever, ...none };
    });
  };
  const ofLight = yield* mapInParts(plans, groupOf, LIGHTS_IN_A_PART);
  yield;
  const believers = show.performers.length + show.mappings.length;
  const byBeliever = Array.from({ length: believers }, () => ({
    mine: [] as Crossfade[],
    groups: new Set<number>(),
  }));
  for (const one of all.values()) byBeliever[one.performer]?.mine.push(one);
  [...groups.values()].forEach(({ crossfades }, at) => {
    for (const { performer } of crossfades) byBeliever[performer]?.groups.add(at);
  });
  return {
    blend: [],
    all: [...all.values()],
    groups: [...groups.values()],
    byBeliever,
    rest: {
      settled: new Uint8Array(believers),
      trust: new Float64Array(believers),
      known: new Uint8Array(believers),
      shows: new Uint8Array(believers),
      // A group with nobody in it is updated once.
      dirty: new Uint8Array(groups.size).fill(1),
    },
    performers: show.performers.length,
    ofLight,
    nobody: { ...blankWatched(show), follows: true, isKnown: true },
  };
}

/** A lamp that a hundred people light has a hundred crossfades. */
const LIGHTS_IN_A_PART = 10;

const NONE: ReadonlyMap<number, readonly number[]> = new Map();

/** For each owner whose trust a light goes by, the mappings through which it does. */
function believedBy(show: Show, light: number): ReadonlyMap<number, readonly number[]> {
  const by = new Map<number, number[]>();
  for (const index of mappingsOf(show.mappings, light)) {
    for (const one of believedOf(show, index)) {
      const mine = by.get(one);
      if (mine === undefined) by.set(one, [index]);
      else mine.push(index);
    }
  }
  return by;
}

/**
 * Sets how far each counts in the cue that is on, or in its crossfade. What stands still and means the same in the
 * next cue can be skipped; during a crossfade nothing can.
 */
export function weighCrossfades(crossfades: Crossfades, cues: Cues): void {
  const { looks, weights, blend, kept } = cues;
  const { settled } = crossfades.rest;
  const wasBlended = crossfades.blend.length > 0;
  crossfades.blend =
    blend.length < 2
      ? []
      : blend.map(cue => {
          const { levels, base, safe } = looks[cue] as CueLook;
          return {
            weight: weights[cue] as number,
            levels: levels.map((level, i) => level * (kept[i] as number)),
            base,
            safe,
          };
        });
  const isBlended = crossfades.blend.length > 0;
  if (wasBlended || isBlended) settled.fill(0);
  for (const one of crossfades.all) {
    const before = one.says;
    weigh(one, looks, weights, blend);
    if (one.says !== before) settled[one.performer] = 0;
  }
}

function weigh(
  one: Crossfade,
  looks: readonly CueLook[],
  weights: Float64Array,
  blend: readonly number[],
): void {
  const { mappings, saysIn } = one;
  saysIn.length = blend.length;
  let count = 0;
  let says = 0;
  for (let k = 0; k < blend.length; k++) {
    const cue = blend[k] as number;
    const isIn = hasAny(mappings, (looks[cue] as CueLook).says);
    saysIn[k] = isIn;
    if (!isIn) continue;
    count += 1;
    says += weights[cue] as number;
  }
  // The weights add up to 1, apart from rounding.
  one.says = count === blend.length ? 1 : says;
}

function hasAny(mappings: readonly number[], says: Float64Array): boolean {
  for (let i = 0; i < mappings.length; i++) if (says[mappings[i] as number] === 1) return true;
  return false;
}

function shared<T>(made: Map<string, T>, key: string, make: () => T): T {
  const there = made.get(key);
  if (there !== undefined) return there;
  const fresh = make();
  made.set(key, fresh);
  return fresh;
}

/** The crossfade of a performer who drives the light. */
export function crossfadeOf({ ofLight }: Crossfades, light: number, performer: number): Crossfade {
  return ofLight[light]?.byBeliever.get(performer) as Crossfade;
}

/**
 * Whom to believe -> how far the light of each is from its safe values. In a large house with cues there are
 * thousands of crossfades, and most stand at one end: those are skipped until their inputs change.
 */
export function crossfade(
  crossfades: Crossfades,
  { believed }: Watched,
  { watchdog }: Show,
  dtS: number,
): void {
  const { byBeliever, groups, rest, blend } = crossfades;
  const { settled, trust, known, dirty } = rest;
  for (let whose = 0; whose < byBeliever.length; whose++) {
    const { isKnown, watch } = believed[whose] as WatchedPerformer;
    const isKnownFlag = isKnown ? 1 : 0;
    if (settled[whose] === 1 && known[whose] === isKnownFlag && trust[whose] === watch.trust) {
      continue;
    }
    known[whose] = isKnownFlag;
    trust[whose] = watch.trust;
    stepCrossfades(crossfades, whose, watchdog.returnS, dtS);
  }
  for (let at = 0; at < dirty.length; at++) {
    if (dirty[at] === 0) continue;
    dirty[at] = 0;
    (groups[at] as CrossfadeGroup).looks += 1;
    spanOf(groups[at] as CrossfadeGroup, blend);
  }
}

/** For an engine that takes over: the values of its groups before its first tick. */
export function spanGroups({ groups, blend }: Crossfades): void {
  for (const group of groups) spanOf(group, blend);
}

function spanOf(group: CrossfadeGroup, blend: readonly Blended[]): void {
  if (blend.length === 0) span(group);
  else spanIn(group, blend);
}

function stepCrossfades(
  { byBeliever, rest: { settled, trust: trusts, known, shows, dirty } }: Crossfades,
  whose: number,
  returnS: number,
  dtS: number,
): void {
  const { mine, groups } = byBeliever[whose] as Crossfades['byBeliever'][number];
  const trust = trusts[whose] as number;
  const isKnown = known[whose] === 1;
  settled[whose] = 1;
  shows[whose] = 0;
  for (const one of mine) {
    if (one.fadeS === undefined) one.ramp = trust;
    else {
      one.ramp = isKnown ? rise(one.ramp, dtS, returnS) : fall(one.ramp, dtS, one.fadeS);
      if (one.ramp !== known[whose]) settled[whose] = 0;
    }
    one.level = one.says === 1 ? one.ramp : 1 - one.says * (1 - one.ramp);
    if (isShown(one)) shows[whose] = 1;
  }
  for (const at of groups) dirty[at] = 1;
}

/** The lowest and the highest of a group. */
function span(group: CrossfadeGroup): void {
  group.lowest = 1;
  group.highest = 0;
  let most = 0;
  for (const { level, ramp, says } of group.crossfades) {
    if (level < group.lowest) group.lowest = level;
    if (says * ramp > group.highest) group.highest = says * ramp;
    if (says > most) most = says;
  }
  // If nobody counts any more, all of it is the cue's.
  if (most < 1) group.highest = Math.min(1, group.highest + 1 - most);
}

/**
 * The same between cues: each cue has its own, and they are crossfaded. Between one performer's cue and another's,
 * somebody always counts.
 */
function spanIn(group: CrossfadeGroup, blend: readonly Blended[]): void {
  group.lowest = 0;
  group.highest = 0;
  for (let k = 0; k < blend.length; k++) {
    const { weight } = blend[k] as Blended;
    let lowest = 1;
    let highest = Number.NEGATIVE_INFINITY;
    for (const { ramp, saysIn } of group.crossfades) {
      if (saysIn[k] !== true) continue;
      lowest = Math.min(lowest, ramp);
      highest = Math.max(highest, ramp);
    }
    // If nobody counts, all of it is the cue's.
    if (highest < 0) highest = 1;
    group.lowestIn[k] = lowest;
    group.highestIn[k] = highest;
    group.lowest += weight * lowest;
    group.highest += weight * highest;
  }
}

/** Whether any fixture shows something by the trust of this one. */
export function showsAny({ byBeliever, rest }: Crossfades, whose: number): boolean {
  if (rest.settled[whose] === 1) return rest.shows[whose] === 1;
  return byBeliever[whose]?.mine.some(isShown) ?? false;
}

export function isShown({ ramp, says }: Crossfade): boolean {
  return ramp > 0 && says > 0;
}

/** All at their safe values: the supervisor has taken them there. */
export function dropCrossfades({ all, rest }: Crossfades): void {
  rest.settled.fill(0);
  for (const one of all) {
    one.ramp = 0;
    one.level = 1 - one.says;
  }
}

/**
 * How much of one performer's values shows beside those of others: less by as much as their crossfade is behind the
 * farthest one. The guard fades everything together to the safe values; if that fade were applied here too, a lost
 * performer's colours would go back over the base on their way.
 */
export function shareAmong(level: number, one: Crossfade, group: CrossfadeGroup): number {
  return group.highest > 0 ? level * Math.min(1, one.ramp / group.highest) : 0;
}

/**
 * Whose state the fade of a moving fixture follows: the performer it follows, or else anyone who is believed, or was last.
 * @param governor index of the only one it goes by, -1 for none
 */
export function governorOf(
  { crossfades }: CrossfadeGroup,
  governor: number,
  { believed }: Watched,
  { nobody }: Pick<Crossfades, 'nobody'>,
): WatchedPerformer {
  if (governor >= 0) return believed[governor] as WatchedPerformer;
  let best: Crossfade | undefined;
  let known: WatchedPerformer | undefined;
  for (const one of crossfades) {
    if (one.says === 0) continue;
    best ??= one;
    const performer = believed[one.performer] as WatchedPerformer;
    if (performer.follows) return performer;
    if (performer.isKnown) known ??= performer;
    if (one.level > best.level) best = one;
  }
  if (known !== undefined) return known;
  return best === undefined ? nobody : (believed[best.performer] as WatchedPerformer);
}

/** Whether a moving fixture goes, or stays, live: one that follows somebody goes dark while there is nobody to follow. */
export function goesLive({ follows, isKnown }: WatchedPerformer, followed: number): boolean {
  return followed >= 0 ? follows : isKnown;
}
