import type { Mix } from '../../show/model/model.js';
import { mapInParts } from '../../stage/in-parts.js';
import { KIND, type Lights } from '../values/lights.js';
import {
  type Blended,
  type Crossfade,
  type CrossfadeGroup,
  type Crossfades,
  crossfadeOf,
  shareAmong,
} from './crossfade.js';
import {
  type CueAsks,
  crossfadeAsks,
  mix,
  noteShares,
  raiseMoving,
  raiseStill,
} from './cue-asks.js';
import type { Wish as Noted } from './explaining.js';
import type { Drive, Lane } from './lanes.js';
import { type Binding, masterOf, meet } from './layers.js';
import type { Mappings } from './map.js';

/** What mappings that depend on signals ask of intensities, beside what the others ask (intensity.ts). */
export interface Wishes {
  /** For lights where the highest of all wishes wins. */
  readonly plain: readonly PlainWishes[];
  /** For lights where priorities or another mix decide: everything asked of each, the lowest rank first. */
  readonly merged: readonly { readonly light: number; readonly wishes: Wish[] }[];
}

interface PlainWishes {
  readonly drive: Drive;
  readonly wishes: readonly Wish[];
  /** They ask for nothing while the drive is at rest. */
  readonly rest: boolean;
}

/** Performers who drive a light by their position: together they are one wish among the others, without priority. */
interface People {
  readonly wishes: readonly Wish[];
  /** The greatest trust of those who count (see `trustIn`), at the last update of the crossfades; -1: nobody counts. */
  best: number;
  k: number;
  looks: number;
}

/** What one lane (or binding) asks of the intensity of one light; physical values. */
interface Wish {
  /** Index of the mapping. */
  readonly of: number;
  readonly light: number;
  readonly lane: Lane | Binding;
  /** Its value at level 0; undefined: it asks for nothing. */
  readonly from: number | undefined;
  readonly to: number;
  readonly mix: Mix;
  readonly priority: number;
  readonly crossfade: Crossfade;
  /** Its trust is its mapping's own, not that of one performer among several. */
  readonly isLane: boolean;
  /** From a follow mapping: it asks nothing of a head that is on nobody. */
  readonly follows: boolean;
  /** One wish in place of all of these. */
  readonly people: People | undefined;
}

const BINDINGS_IN_A_PART = 200;

/** For intensities, within one priority. */
const ORDER: Readonly<Record<Mix, number>> = { usual: 0, highest: 0, latest: 1, add: 2, scale: 3 };

export function* createWishes(
  { bindings, drives }: Mappings,
  lights: Lights,
  crossfades: Crossfades,
): Generator<undefined, Wishes> {
  const { start, intensity } = lights;
  const isIntensity = ({ fixture, channel }: { fixture: number; channel: number }) =>
    (start[fixture] as number) + channel === intensity[fixture];
  const ofDrive = ({ mapping, lanes, of }: Drive): Wish[] => {
    if (mapping.kind !== 'signal') return [];
    const whose = crossfades.performers + of;
    return mapping.values.filter(isIntensity).map(({ fixture, channel, value }) => ({
      of,
      light: fixture,
      lane: lanes.find(({ fixtures }) => fixtures.includes(fixture)) as Lane,
      from: mapping.from.find(one => one.fixture === fixture && one.channel === channel)?.value,
      to: value,
      mix: mapping.mix,
      priority: mapping.priority,
      crossfade: crossfadeOf(crossfades, fixture, whose),
      isLane: true,
      follows: false,
      people: undefined,
    }));
  };
  const byDrive = yield* mapInParts(drives, drive => ({ drive, wishes: ofDrive(drive) }));
  const ofLanes = byDrive.flatMap(({ wishes }) => wishes);
  const lightsMerged = new Set(ofLanes.filter(isMerged).map(({ light }) => light));
  const bound = yield* mapInParts(
    bindings,
    (binding): Wish[] =>
      binding.mapping.values
        .filter(one => isIntensity(one) && lightsMerged.has(one.fixture))
        .map(({ fixture, value }) => ({
          of: binding.of,
          light: fixture,
          lane: binding,
          from: undefined,
          to: value,
          mix: 'usual',
          priority: 0,
          crossfade: crossfadeOf(crossfades, fixture, binding.whose),
          isLane: binding.lane !== undefined,
          follows: binding.mapping.kind === 'follow',
          people: undefined,
        })),
    BINDINGS_IN_A_PART,
  );
  yield;
  const mine = new Map([...lightsMerged].map((light): [number, Wish[]] => [light, []]));
  for (const one of [...bound.flat(), ...ofLanes]) mine.get(one.light)?.push(one);
  return {
    plain: byDrive.flatMap(({ drive, wishes }): PlainWishes[] => {
      const plain = wishes.filter(({ light }) => !lightsMerged.has(light));
      const rest = plain.every(({ from }) => from === undefined);
      return plain.length === 0 ? [] : [{ drive, wishes: plain, rest }];
    }),
    merged: [...mine].map(([light, wishes]) => ({
      light,
      wishes: gathered(wishes).sort(
        (a, b) => a.priority - b.priority || ORDER[a.mix] - ORDER[b.mix],
      ),
    })),
  };
}

/** The wishes of people count as one. */
function gathered(all: readonly Wish[]): Wish[] {
  const people = all.filter(({ isLane }) => !isLane);
  const others = all.filter(({ isLane }) => isLane);
  const [first] = people;
  if (first === undefined) return others;
  return [{ ...first, people: { wishes: people, best: -1, k: -1, looks: -1 } }, ...others];
}

function isMerged({ mix: how, priority }: Wish): boolean {
  return priority !== 0 || (how !== 'usual' && how !== 'highest');
}

/**
 * After `ask`: merges the wishes of lanes with the others.
 * @param inCues what each cue of a crossfade asks so far
 */
export function askByLanes(
  { plain, merged }: Wishes,
  inCues: CueAsks,
  crossfades: Crossfades,
  lights: Lights,
  noted?: Noted[],
): void {
  const { ofLight, blend } = crossfades;
  for (const { drive, wishes, rest } of plain) {
    if (rest && drive.rests) continue;
    for (const wish of wishes) {
      const group = ofLight[wish.light] as CrossfadeGroup;
      if (blend.length === 0) askPlain(wish, group, lights, noted);
      else askInCues(wish, group, inCues, blend, lights, noted);
    }
  }
  if (blend.length > 0) {
    crossfadeAsks(inCues, crossfades, lights);
    if (noted !== undefined) noteShares(noted, inCues, blend, lights);
  }
  for (const { light, wishes } of merged) {
    askMerged(wishes, ofLight[light] as CrossfadeGroup, blend, light, lights, noted);
  }
}

/** The highest wins. Its sure value, which holds even if performers are lost, does not fade with the rest. */
function askPlain(
  { light, lane, from, to, crossfade }: Wish,
  group: CrossfadeGroup,
  { kind, intensity, asked, safe, base }: Lights,
  noted: Noted[] | undefined,
): void {
  // Turned off in the cue, it asks for nothing, not even for the base.
  if (actsOf(lane) === 0) return;
  const { level } = lane;
  const sure = from === undefined ? sureOf(lane, crossfade) * to : 0;
  if (level === 0 && from === undefined && sure === 0) return;
  const value = shownValue(lane, from, to);
  const c = intensity[light] as number;
  const wish =
    kind[light] === KIND.moving
      ? value * shareAmong(1, crossfade, group)
      : mix(safe[c] as number, Math.max(base[c] as number, value), crossfade.ramp);
  asked[light] = Math.max(asked[light] as number, wish, sure);
  noted?.push({
    channel: c,
    driver: lane,
    trust: crossfade.level,
    asks: value,
    result: Math.max(wish, sure),
  });
}

/** The same in each of the cues of a crossfade. */
function askInCues(
  { of, light, lane, from, to, crossfade }: Wish,
  group: CrossfadeGroup,
  inCues: CueAsks,
  blend: readonly Blended[],
  { kind, intensity }: Lights,
  noted: Noted[] | undefined,
): void {
  if (actsOf(lane) === 0) return;
  const hasSure = from === undefined && 'shownSure' in lane && sureOf(lane, crossfade) > 0;
  if (lane.level === 0 && from === undefined && !hasSure) return;
  const value = masterOf(lane) * valueAt(from, to, lane.own);
  const sure = hasSure ? lane.masterLeast * lane.sure * to : 0;
  const c = intensity[light] as number;
  const shown = noted && new Float64Array(blend.length).fill(Number.NaN);
  if (kind[light] === KIND.moving) {
    const shows = Math.max(value * shareAmong(1, crossfade, group), sure);
    raiseMoving(inCues, blend, light, of, shows, shown);
  } else raiseStill(inCues, blend, light, c, of, value, sure, crossfade.ramp, shown);
  noted?.push({
    channel: c,
    driver: lane,
    trust: crossfade.level,
    asks: shownValue(lane, from, to),
    result: Number.NaN,
    inCues: shown,
  });
}

/** If it is more than the trust lets the level show. */
function sureOf(lane: Lane | Binding, { ramp: trust }: Crossfade): number {
  if (!('shownSure' in lane)) return 0;
  return lane.shownSure > lane.level * trust + ROUNDING ? lane.shownSure : 0;
}

/** Sums and products of the same shares differ by less than this. */
const ROUNDING = 1e-9;

/** Its level as far as the cue lets it act. */
function shownValue(lane: Lane | Binding, from: number | undefined, to: number): number {
  return from === undefined ? lane.level * to : actsOf(lane) * valueAt(from, to, lane.own);
}

function actsOf(lane: Lane | Binding): number {
  return 'acts' in lane ? lane.acts : 1;
}

function valueAt(from: number | undefined, to: number, level: number): number {
  return from === undefined ? level * to : from + level * (to - from);
}

/** What is merged: everything as it is now, or one of the cues of a crossfade. */
interface Merged {
  /** See `trustIn`. */
  readonly trust: number;
  readonly base: number;
  readonly safe: number;
  readonly lowest: number;
  /** The highest trust; for a light that moves, the trust that its own fade stands in for. */
  readonly highest: number;
  /** For each mapping how far the cue lets it act; undefined: as it does now. */
  readonly levels: Float64Array | undefined;
}

/** Between cues each cue merges its own wishes, and the results are crossfaded, so that nothing comes up in between. */
function askMerged(
  wishes: Wish[],
  group: CrossfadeGroup,
  blend: readonly Blended[],
  light: number,
  lights: Lights,
  noted: Noted[] | undefined,
): void {
  const { intensity, base, safe, asked } = lights;
  const c = intensity[light] as number;
  sortLatest(wishes);
  if (blend.length === 0) {
    const one = {
      trust: trustIn(wishes, -1, group),
      base: base[c] as number,
      safe: safe[c] as number,
      lowest: group.lowest,
      highest: group.highest,
      levels: undefined,
    };
    asked[light] = merge(wishes, one, light, lights, noted);
    return;
  }
  let sum = 0;
  const notes: Noted[][] = [];
  for (let k = 0; k < blend.length; k++) {
    const look = blend[k] as Blended;
    const one = {
      trust: trustIn(wishes, k, group),
      base: look.base[c] as number,
      safe: look.safe[c] as number,
      lowest: group.lowestIn[k] as number,
      highest: fadedIn(group, k, lights.governor[light] as number),
      levels: look.levels,
    };
    const theirs: Noted[] = [];
    sum += look.weight * merge(wishes, one, light, lights, noted && theirs);
    notes.push(theirs);
  }
  asked[light] = sum;
  noted?.push(...blended(notes, blend));
}

/**
 * How much trust the fade of a light that moves stands in for, in one of the cues. The fade goes by one performer,
 * the governor: in a cue in which they count, it stands in for everybody there. In another cue it would stay lit
 * although everybody there is lost; so there it stands in for the trust of all cues together, as if nothing were
 * merged.
 */
function fadedIn(group: CrossfadeGroup, k: number, governor: number): number {
  const alone = group.byBeliever.get(governor);
  return alone !== undefined && hasSay(alone, k) ? (group.highestIn[k] as number) : group.highest;
}

/** In merge order, which is the same in all cues. */
function blended(notes: readonly Noted[][], blend: readonly Blended[]): Noted[] {
  const [first = []] = notes;
  return first.map((one, i) => {
    let [asks, result] = [0, 0];
    for (const [k, { weight }] of blend.entries()) {
      asks += weight * (notes[k]?.[i]?.asks ?? 0);
      result += weight * (notes[k]?.[i]?.result ?? 0);
    }
    return { ...one, asks, result };
  });
}

/**
 * Priorities one after the other; the result depends on all of them, and so goes by the least trust of all. Those who
 * share the usual merge, the highest, hold it while one of them is there; and the more they are lost, the more of the
 * safe value shows at least.
 */
function merge(
  wishes: readonly Wish[],
  { trust, base: floor, safe, lowest, highest, levels }: Merged,
  light: number,
  { kind, intensity, least, greatest, onNobody }: Lights,
  noted: Noted[] | undefined,
): number {
  const c = intensity[light] as number;
  let result = floor;
  let at = 0;
  while (at < wishes.length) {
    const { priority } = wishes[at] as Wish;
    const below = result;
    // Wishes without a priority share the bottom with the base.
    const isGround = priority === 0 && at === 0;
    let high = isGround ? floor : 0;
    let opacity = isGround ? 1 : 0;
    let isHighest = true;
    for (; at < wishes.length && wishes[at]?.priority === priority; at++) {
      const one = wishes[at] as Wish;
      const { lane, of, from, to, people } = one;
      if (people !== undefined) {
        for (let i = 0; i < people.wishes.length; i++) {
          const theirs = people.wishes[i] as Wish;
          if (theirs.follows && onNobody[light] === 1) continue;
          const { lane: binding } = theirs;
          // Of many performers, most are not present.
          const level =
            levels === undefined
              ? binding.level
              : (levels[theirs.of] as number) * masterOf(binding) * binding.own;
          const value = level === 0 ? 0 : level * theirs.to;
          high = Math.max(high, level === 0 ? 0 : value * shareOf(theirs.crossfade, trust));
          opacity = Math.max(opacity, level);
          // Wishes that ask for nothing in any of the cues are left out.
          if (binding.level > 0) noted?.push(noteOf(theirs, c, value, over(below, high, opacity)));
        }
        continue;
      }
      if (one.follows && onNobody[light] === 1) continue;
      const may = levels === undefined ? actsOf(lane) : (levels[of] as number) * masterOf(lane);
      const level = levels === undefined ? lane.level : may * lane.own;
      const acts = from === undefined ? level : may;
      if (one.mix === 'usual' || one.mix === 'highest') {
        const value = from === undefined ? level * to : may * valueAt(from, to, lane.own);
        high = Math.max(high, value);
        opacity = Math.max(opacity, acts);
        noted?.push(noteOf(one, c, value, over(below, high, opacity)));
        continue;
      }
      if (isHighest) result = over(below, high, opacity);
      isHighest = false;
      const value = from === undefined ? to : valueAt(from, to, lane.own);
      const met = meet(one.mix, result, value, least[c] as number, greatest[c] as number);
      result += acts * (met - result);
      noted?.push(noteOf(one, c, value, result));
    }
    if (isHighest) result = over(below, high, opacity);
  }
  if (kind[light] === KIND.moving) return highest > 0 ? result * Math.min(1, trust / highest) : 0;
  return Math.max(mix(safe, result, trust), mix(safe, 0, lowest));
}

/**
 * How much of a person's wish goes into a merge that is itself shown by `trust`: chosen so that in all it shows by
 * the lower of the two trusts, as in a light where nothing is merged, and not by their product.
 */
function shareOf({ ramp }: Crossfade, trust: number): number {
  return ramp < trust ? ramp / trust : 1;
}

/**
 * The least trust of all separate mappings, and the best trust among those who share the usual merge: they hold it.
 * @param k only those who count in this cue of the crossfade; -1: all who count now
 */
function trustIn(wishes: readonly Wish[], k: number, group: CrossfadeGroup): number {
  let least = 1;
  let best = -1;
  for (let i = 0; i < wishes.length; i++) {
    const { crossfade, isLane, people } = wishes[i] as Wish;
    if (people !== undefined) best = bestOf(people, k, group);
    else if (isLane && hasSay(crossfade, k)) least = Math.min(least, crossfade.ramp);
  }
  return best < 0 ? least : Math.min(least, best);
}

/** A hundred may be in a zone: computed anew only if one of their crossfades was updated since. */
function bestOf(people: People, k: number, { looks }: CrossfadeGroup): number {
  if (people.looks === looks && people.k === k) return people.best;
  people.looks = looks;
  people.k = k;
  people.best = -1;
  for (const { crossfade } of people.wishes) {
    if (hasSay(crossfade, k)) people.best = Math.max(people.best, crossfade.ramp);
  }
  return people.best;
}

function hasSay({ says, saysIn }: Crossfade, k: number): boolean {
  return k < 0 ? says !== 0 : saysIn[k] === true;
}

function noteOf({ lane, crossfade }: Wish, channel: number, asks: number, result: number): Noted {
  return { channel, driver: lane, trust: crossfade.level, asks, result };
}

/** The highest wish of a priority over what is below, as far as it acts. */
function over(below: number, high: number, opacity: number): number {
  return below * (1 - opacity) + high;
}

/** Within one priority the latest to rise comes last. */
function sortLatest(wishes: Wish[]): void {
  for (let i = 1; i < wishes.length; i++) {
    const one = wishes[i] as Wish;
    if (one.mix !== 'latest') continue;
    let at = i;
    while (at > 0 && isLater(wishes[at - 1] as Wish, one)) {
      wishes[at] = wishes[at - 1] as Wish;
      at -= 1;
    }
    wishes[at] = one;
  }
}

function isLater(a: Wish, b: Wish): boolean {
  return a.mix === 'latest' && a.priority === b.priority && risenFor(a) < risenFor(b);
}

function risenFor({ lane }: Wish): number {
  return 'risenFor' in lane ? lane.risenFor : 0;
}
