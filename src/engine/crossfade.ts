import { fall, rise } from '../safety/ramp.js';
import type { Show } from '../show/model.js';
import type { Lights } from './lights.js';
import type { Watched, WatchedPerformer } from './watch.js';

/**
 * Where the light of one performer, or of a mapping that rests on signals, is between safe (0) and live (1), for the fixtures with one fade time. Without a
 * time of their own it is the ramp of the performer's watchdog.
 */
export interface Crossfade {
  /** Index in `Watched.believed`. */
  readonly performer: number;
  /** Live to safe, seconds; undefined takes that of the cause. */
  readonly fadeS: number | undefined;
  level: number;
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
  /** For each light; undefined where no mapping touches it. */
  readonly ofLight: readonly (CrossfadeGroup | undefined)[];
}

export function createCrossfades(
  { performers: company }: Show,
  { plans, believes }: Lights,
): Crossfades {
  const all = new Map<string, Crossfade>();
  const groups = new Map<string, CrossfadeGroup>();
  const ofLight = plans.map(({ fadeS }, light) => {
    const performers = believes[light] ?? [];
    if (performers.length === 0) return undefined;
    return shared(groups, `${performers.join(',')}/${fadeS}`, () => ({
      crossfades: performers.map(performer =>
        shared(all, `${performer}/${fadeS}`, () => ({ performer, fadeS, level: 0 })),
      ),
      lowest: 0,
      highest: 0,
    }));
  });
  return {
    all: [...all.values()],
    groups: [...groups.values()],
    performers: company.length,
    ofLight,
  };
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
    if (one.fadeS === undefined) one.level = watch.trust;
    else if (isKnown) one.level = rise(one.level, dtS, watchdog.returnS);
    else one.level = fall(one.level, dtS, one.fadeS);
  }
  for (const group of groups) {
    group.lowest = 1;
    group.highest = 0;
    for (const { level } of group.crossfades) {
      if (level < group.lowest) group.lowest = level;
      if (level > group.highest) group.highest = level;
    }
  }
}

/** All at their safe values: the supervisor has taken them there. */
export function dropCrossfades({ all }: Crossfades): void {
  for (const one of all) one.level = 0;
}

/**
 * How much of what one performer sets of a fixture shows beside what others do: less by as much as their crossfade
 * is behind the farthest one. The guard fades all together to the safe values; taken off here as well, the
 * crossfade would lead a lost performer's colours back over the base on their way.
 */
export function shareAmong(level: number, one: Crossfade, group: CrossfadeGroup): number {
  return group.highest > 0 ? level * Math.min(1, one.level / group.highest) : 0;
}

/**
 * Whose state a moving fixture's own follows: whom it follows, or else anyone who is believed, or was last.
 * @param governor index of whose alone it follows, -1 for nobody's
 */
export function governorOf(
  { crossfades }: CrossfadeGroup,
  governor: number,
  { believed }: Watched,
): WatchedPerformer {
  if (governor >= 0) return believed[governor] as WatchedPerformer;
  let best = crossfades[0] as Crossfade;
  let known: WatchedPerformer | undefined;
  for (const one of crossfades) {
    const performer = believed[one.performer] as WatchedPerformer;
    if (performer.follows) return performer;
    if (performer.isKnown) known ??= performer;
    if (one.level > best.level) best = one;
  }
  return known ?? (believed[best.performer] as WatchedPerformer);
}

/** Whether a moving fixture goes, or stays, live: one that follows goes dark while there is nobody to follow. */
export function goesLive({ follows, isKnown }: WatchedPerformer, followed: number): boolean {
  return followed >= 0 ? follows : isKnown;
}
