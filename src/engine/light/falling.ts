import type { Watched, WatchedPerformer } from '../people/watch.js';
import { KIND, type Lights } from '../values/lights.js';
import { type CrossfadeGroup, type Crossfades, isShown, showsAny } from './crossfade.js';
import type { Fades } from './fades.js';

/**
 * Which lights are on their way to their safe values because somebody is lost, stopped or gone. While the supervisor
 * gives the light back it holds these down: its rising share, times a falling level, would come up first.
 */
export interface Falling {
  /** For each light 1 while it falls. */
  readonly lights: Uint8Array;
  /** Counts changes of `lights`. */
  changes: number;
  /** For each group of crossfades 1 if one of them falls in this tick. */
  readonly groups: Map<CrossfadeGroup, boolean>;
}

export function createFalling({ kind }: Lights): Falling {
  return { lights: new Uint8Array(kind.length), changes: 0, groups: new Map() };
}

/** The state of the tick before its lights are computed. */
interface Seen {
  readonly watched: Watched;
  readonly lights: Lights;
  readonly crossfades: Crossfades;
  readonly fades: Fades;
}

/** Once a tick, after the crossfades and before its first light leaves. */
export function noteFalling(falling: Falling, { watched, lights, crossfades, fades }: Seen): void {
  const { kind } = lights;
  const { groups, lights: falls } = falling;
  groups.clear();
  const isAnybodyLost = hasLost(watched, crossfades);
  for (let i = 0; i < kind.length; i++) {
    let now = 0;
    if (isAnybodyLost && isGroupFalling(groups, crossfades.ofLight[i], watched)) now = 1;
    else if (kind[i] === KIND.moving && fades.isLive[i] === 0 && isGoingDark(fades, i)) now = 1;
    if (falls[i] === now) continue;
    falls[i] = now;
    falling.changes += 1;
  }
}

function hasLost({ believed }: Watched, crossfades: Crossfades): boolean {
  for (let whose = 0; whose < believed.length; whose++) {
    if (!(believed[whose] as WatchedPerformer).isKnown && showsAny(crossfades, whose)) return true;
  }
  return false;
}

/** Many lights share a group. */
function isGroupFalling(
  known: Map<CrossfadeGroup, boolean>,
  group: CrossfadeGroup | undefined,
  { believed }: Watched,
): boolean {
  if (group === undefined) return false;
  const before = known.get(group);
  if (before !== undefined) return before;
  let falls = false;
  for (const one of group.crossfades) {
    if (isShown(one) && !(believed[one.performer] as WatchedPerformer).isKnown) falls = true;
  }
  known.set(group, falls);
  return falls;
}

/** A loss takes a head out and over, even if all is well again meanwhile. A turn is no loss. */
function isGoingDark({ safeFades, turning }: Fades, light: number): boolean {
  const stage = safeFades[light]?.stage;
  return turning[light] === 0 && (stage === 'fading' || stage === 'to-safe');
}
