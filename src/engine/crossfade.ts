import { fall, rise } from '../safety/ramp.js';
import { touches } from '../show/basis.js';
import type { Show } from '../show/model.js';
import type { Cues } from './cues.js';
import { believedOf, KIND, type Lights } from './lights.js';
import { blankWatched, type Watched, type WatchedPerformer } from './watch.js';

/**
 * Where the light of one performer, or of a mapping that rests on signals, is between safe (0) and live (1), for the fixtures with one fade time. Without a
 * time of their own it is the ramp of the performer's watchdog.
 */
export interface Crossfade {
  /** Index in `Watched.believed`. */
  readonly performer: number;
  /** Live to safe, seconds; undefined takes that of the cause. */
  readonly fadeS: number | undefined;
  /** Of the ramp alone. */
  ramp: number;
  /** How far there is a say here, 0..1: none where the cue has all of the mappings off. */
  says: number;
  /** How far what is wished is from safe to live: the ramp, for as far as there is a say. */
  level: number;
  /** Mappings by which there is one; not looked at in a show without cues. */
  readonly mappings: readonly number[];
}

/** Those on which a fixture depends; fixtures with the same performers and fade share one group. */
export interface CrossfadeGroup {
  readonly crossfades: readonly Crossfade[];
  /** Lowest and highest of them in this tick. */
  lowest: number;
  highest: number;
}

export interface Crossfades {
  readonly all: readonly Crossfade[];
  readonly groups: readonly CrossfadeGroup[];
  /** How many performers there are: the mappings come after them. */
  readonly performers: number;
  /** For each light; undefined where no mapping touches it, but for one that moves between cues. */
  readonly ofLight: readonly (CrossfadeGroup | undefined)[];
  /** Stands for those who drive a light that nobody drives. */
  readonly nobody: WatchedPerformer;
}

export function createCrossfades(show: Show, { plans, believes, kind }: Lights): Crossfades {
  const all = new Map<string, Crossfade>();
  const groups = new Map<string, CrossfadeGroup>();
  const ofLight = plans.map(({ fadeS }, light) => {
    const performers = believes[light] ?? [];
    if (performers.length === 0 && kind[light] !== KIND.moving) return undefined;
    const keys = performers.map((performer): [key: string, mappings: readonly number[]] => {
      const by = show.cues.length === 0 ? [] : believedBy(show, light, performer);
      return [`${performer}/${fadeS}/${by.join(',')}`, by];
    });
    return shared(groups, keys.map(([key]) => key).join(' '), () => ({
      crossfades: performers.map((performer, i) => {
        const [key, mappings] = keys[i] as (typeof keys)[number];
        const fresh = { performer, fadeS, mappings, ramp: 0, says: 1, level: 0 };
        return shared(all, key, () => fresh);
      }),
      lowest: 0,
      highest: 0,
    }));
  });
  return {
    all: [...all.values()],
    groups: [...groups.values()],
    performers: show.performers.length,
    ofLight,
    nobody: { ...blankWatched(show), follows: true, isKnown: true },
  };
}

/** Mappings by which a light goes by this trust. */
function believedBy(show: Show, light: number, performer: number): number[] {
  return show.mappings.flatMap((mapping, index) =>
    touches(mapping, light) && believedOf(show, mapping).includes(performer) ? [index] : [],
  );
}

/** As the cue that is on has it, or its crossfade. */
export function weighCrossfades({ all }: Crossfades, { says }: Cues): void {
  for (const one of all) {
    one.says = 0;
    for (const mapping of one.mappings) one.says = Math.max(one.says, says[mapping] as number);
  }
}

function shared<T>(made: Map<string, T>, key: string, make: () => T): T {
  const there = made.get(key);
  if (there !== undefined) return there;
  const fresh = make();
  made.set(key, fresh);
  return fresh;
}

/** That of a performer who drives the light. */
export function crossfadeOf({ ofLight }: Crossfades, light: number, performer: number): Crossfade {
  return ofLight[light]?.crossfades.find(one => one.performer === performer) as Crossfade;
}

/** Whom to believe -> how far the light of each is from its safe values. */
export function crossfade(
  { all, groups }: Crossfades,
  { believed }: Watched,
  { watchdog }: Show,
  dtS: number,
): void {
  for (const one of all) {
    const { isKnown, watch } = believed[one.performer] as WatchedPerformer;
    if (one.fadeS === undefined) one.ramp = watch.trust;
    else if (isKnown) one.ramp = rise(one.ramp, dtS, watchdog.returnS);
    else one.ramp = fall(one.ramp, dtS, one.fadeS);
    one.level = one.says === 1 ? one.ramp : 1 - one.says * (1 - one.ramp);
  }
  for (const group of groups) {
    group.lowest = 1;
    group.highest = 0;
    let most = 0;
    for (const { level, ramp, says } of group.crossfades) {
      if (level < group.lowest) group.lowest = level;
      if (says * ramp > group.highest) group.highest = says * ramp;
      if (says > most) most = says;
    }
    // Where nobody has a say any more, all of it is the cue's.
    if (most < 1) group.highest = Math.min(1, group.highest + 1 - most);
  }
}

/** All at their safe values: the supervisor has taken them there. */
export function dropCrossfades({ all }: Crossfades): void {
  for (const one of all) {
    one.ramp = 0;
    one.level = 1 - one.says;
  }
}

/**
 * How much of what one performer sets of a fixture shows beside what others do: less by as much as their crossfade
 * is behind the farthest one. The guard fades all together to the safe values; taken off here as well, the
 * crossfade would lead a lost performer's colours back over the base on their way.
 */
export function shareAmong(level: number, one: Crossfade, group: CrossfadeGroup): number {
  return group.highest > 0 ? level * Math.min(1, one.ramp / group.highest) : 0;
}

/**
 * Whose state a moving fixture's own follows: whom it follows, or else anyone who is believed, or was last.
 * @param governor index of whose alone it follows, -1 for nobody's
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

/** Whether a moving fixture goes, or stays, live: one that follows goes dark while there is nobody to follow. */
export function goesLive({ follows, isKnown }: WatchedPerformer, followed: number): boolean {
  return followed >= 0 ? follows : isKnown;
}
