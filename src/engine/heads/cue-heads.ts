import type { SafeFade } from '../../safety/fade-to-safe.js';
import type { Cues } from '../cues/cues.js';
import { beginTurns, type Fades, leaveIn, leaveSafe, weighSafe } from '../light/fades.js';
import { isLit, KIND, type Lights } from '../values/lights.js';
import { type Aims, goOnFollowing, takeFollow } from './aim.js';
import { goOnChoosing } from './choices.js';
import type { Choices } from './chooser.js';
import { meansSame } from './follow.js';

/** What the heads need for a change of cue. */
interface Seen {
  readonly aims: Aims;
  readonly fades: Fades;
  readonly lights: Lights;
}

interface SeenInCue extends Seen {
  readonly choices: Choices;
}

/**
 * A cue that gives a head another aim, live or safe, takes it there in the dark; whom it follows changes when it is
 * dark. If its mapping in the new cue means the same, it goes on following, lit. A head that is dark in the new cue
 * fades out in place with the crossfade, and moves then. Runs before `map`, which then holds what the head shows.
 * @param fades of the last tick
 */
export function takeHeads(cues: Cues, seen: SeenInCue): void {
  const { aims, fades, lights } = seen;
  if (cues.began) {
    const turns: number[] = [];
    for (let light = 0; light < lights.kind.length; light++) {
      if (lights.kind[light] === KIND.moving) beginHead(cues, seen, light, turns);
    }
    beginTurns(fades, turns, lights);
  }
  if (cues.moved) weighSafe(fades, lights);
  if (aims.pending.length === 0) return;
  const left: number[] = [];
  const dark: number[] = [];
  for (const light of aims.pending) (shows(light, fades, lights) ? left : dark).push(light);
  for (const light of dark) goOver(cues, light, { aims, fades, lights });
  aims.pending = left;
}

/** It is dark. */
function goOver(cues: Cues, light: number, seen: Seen): void {
  const { aims, lights } = seen;
  const follow = followIn(cues, light);
  lights.holds[light] = 0;
  lights.muted[light] = cues.looks[cues.on]?.dark[light] ?? 0;
  if (follow !== aims.followedBy[light]) followOn(follow, light, seen);
}

/** It still shows something of the cue before. */
function shows(light: number, fades: Fades, lights: Lights): boolean {
  if (!isLitLive(fades.safeFades[light] as SafeFade)) return false;
  return lights.holds[light] === 0 || isLit(lights, light);
}

/** After a start or a stall, when all heads stand at their safe aims. */
export function settleHeads(cues: Cues, seen: Seen): void {
  const { aims, lights } = seen;
  if (cues.on < 0) return;
  aims.pending = [];
  lights.holds.fill(0);
  lights.muted.fill(0);
  weighSafe(seen.fades, lights);
  for (let light = 0; light < lights.kind.length; light++) {
    if (followIn(cues, light) !== aims.followedBy[light]) {
      followOn(followIn(cues, light), light, seen);
    }
  }
}

/** Makes it follow by this mapping, -1 for none. */
export function followOn(mapping: number, light: number, { aims, fades, lights }: Seen): void {
  takeFollow(aims, lights, light, mapping);
  leaveIn(fades, light, aims.follows[light]?.leaveS ?? 0);
}

function beginHead(cues: Cues, seen: SeenInCue, light: number, turns: number[]): void {
  const { aims, fades, lights } = seen;
  const { stage } = fades.safeFades[light] as SafeFade;
  const isLive = stage === 'live' || stage === 'rising';
  const follow = followIn(cues, light);
  if (isLive) followOnLit(follow, light, seen);
  const isOther = follow !== aims.followedBy[light];
  const to = cues.looks[cues.on];
  if (to === undefined) return;
  const isDark = to.dark[light] === 1;
  if (!isDark) lights.muted[light] = 0;
  lights.holds[light] = isDark && isLive && (isOther || follow < 0) ? 1 : 0;
  const holds = lights.holds[light] === 1;
  if (isLive) {
    const aimsElsewhere = follow < 0 && isMoved(lights, light, cues.from.base, to.base);
    if (!holds && (isOther || aimsElsewhere)) turns.push(light);
  } else if (stage === 'safe' && isMoved(lights, light, cues.from.safe, to.safe)) {
    leaveSafe(fades, light, lights);
  }
  // If it is dark, or going dark, it does not come up again with what is left of the cue before.
  const goesOver = isOther || holds || (isDark && !isLive);
  const waits = aims.pending.includes(light);
  if (goesOver && !waits) aims.pending.push(light);
  if (!goesOver && waits) aims.pending = aims.pending.filter(one => one !== light);
}

/** If the other mapping means the same, the head now follows by it; otherwise nothing happens. */
function followOnLit(mapping: number, light: number, seen: SeenInCue): void {
  const { aims, fades, lights, choices } = seen;
  const before = aims.followedBy[light] as number;
  if (mapping === before) return;
  const was = aims.follows[light];
  if (was === undefined || lights.onNobody[light] === 1) return;
  if (!goOnChoosing(choices, light, before, mapping, aims, lights)) return;
  const follow = aims.candidates[light]?.get(mapping);
  if (follow === undefined || !meansSame(was, follow)) return;
  goOnFollowing(aims, lights, light, mapping);
  leaveIn(fades, light, follow.leaveS);
}

function followIn({ looks, on }: Cues, light: number): number {
  return looks[on]?.follows[light] ?? -1;
}

/**
 * Whether any value that moves the beam of a light differs between these and those.
 * @param shift by how much the offset of the light is greater in those
 */
export function isMoved(
  { start, movement }: Lights,
  light: number,
  values: Float64Array,
  others: Float64Array,
  shift = 0,
): boolean {
  const end = start[light + 1] as number;
  for (let c = start[light] as number; c < end; c++) {
    if (movement[c] === 1 && values[c] !== others[c + shift]) return true;
  }
  return false;
}

/** It still shows some light for its performer. */
function isLitLive({ stage }: SafeFade): boolean {
  return stage === 'live' || stage === 'rising' || stage === 'fading';
}
