import {
  createSafeFade,
  dropSafeFade,
  type SafeFade,
  stepSafeFade,
} from '../../safety/fade-to-safe.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { safeIsDark } from '../../show/model/safe-look.js';
import type { WatchedPerformer } from '../people/watch.js';
import { channelsOf, followMappingIn, isLit, KIND, type Lights } from '../values/lights.js';
import { type Crossfades, showsAny } from './crossfade.js';
import { type Drive, isOnNobody } from './lanes.js';

/**
 * How far each light that can move is on its way to the safe look and back: intensity first, then the move in the
 * dark. It is a ramp of its own beside the crossfades: once begun it goes all the way to dark, even if all is well
 * again.
 */
export interface Fades {
  /** For each light; undefined if it doesn't move, or no mapping touches it. */
  readonly safeFades: readonly (SafeFade | undefined)[];
  /** For each light 1 while its fade is live, as most are most of the time: their fades need not be fetched. */
  readonly isLive: Uint8Array;
  /** For each light 1 if its fade, and not only the aim, set its channels in this tick. */
  readonly inHand: Uint8Array;
  /** For each light 1 while its fade is not a loss, but a turn that must not be seen. */
  readonly turning: Uint8Array;
  /** For each light the intensity last asked for; held while it fades out. */
  readonly heldIntensity: Float64Array;
  /** For each channel its value when the last move began. */
  readonly from: Float64Array;
  readonly safeIsDark: boolean[];
  /** For each light that follows somebody, how long it takes to go dark when they leave the stage, seconds. */
  readonly leaveS: Float64Array;
  /** Times of a turn in the dark; the move takes what it takes. */
  readonly turn: { readonly returnS: number; readonly moveS: number };
}

export function createFades({ watchdog, mappings, cues }: Show, lights: Lights): Fades {
  const { plans, kind, safe } = lights;
  const [firstCue] = cues;
  const count = plans.length;
  return {
    safeFades: plans.map((_, i) => (kind[i] === KIND.moving ? createSafeFade() : undefined)),
    isLive: new Uint8Array(count),
    inHand: new Uint8Array(count),
    turning: new Uint8Array(count),
    heldIntensity: new Float64Array(count),
    from: Float64Array.from(safe),
    safeIsDark: plans.map((plan, i) => safeIsDark(plan, channelsOf(lights, safe, i))),
    leaveS: Float64Array.from(
      plans,
      (_, i) => mappings[followMappingIn(mappings, firstCue, plans, i)]?.fade.outS ?? 0,
    ),
    turn: { returnS: watchdog.turnS, moveS: 0 },
  };
}

/**
 * Out, over and up again, through the stages of a fade to safe with times of its own. A dark head moves at once.
 */
export function beginTurns(fades: Fades, turns: readonly number[], lights: Lights): void {
  for (const light of turns) {
    const safeFade = fades.safeFades[light] as SafeFade;
    fades.turning[light] = 1;
    fades.isLive[light] = 0;
    safeFade.stage = 'fading';
    if (!isLit(lights, light)) safeFade.live = 0;
  }
}

/** Another cue, or its crossfade, has other safe values. */
export function weighSafe({ safeIsDark: isDark }: Fades, lights: Lights): void {
  for (let i = 0; i < lights.kind.length; i++) {
    if (lights.kind[i] !== KIND.moving) continue;
    isDark[i] = safeIsDark(lights.plans[i] as FixturePlan, channelsOf(lights, lights.safe, i));
  }
}

/** It follows by another mapping: sets how long its light takes to go out when that performer leaves the stage, seconds. */
export function leaveIn({ leaveS }: Fades, light: number, outS: number): void {
  leaveS[light] = outS;
}

/**
 * It has a new safe aim. What it shows at the old one counts as live until it is dark: from there it goes to the new
 * aim, or back to the performer.
 */
export function leaveSafe(fades: Fades, light: number, lights: Lights): void {
  const { wanted, out, intensity } = lights;
  channelsOf(lights, wanted, light).set(channelsOf(lights, out, light));
  const at = intensity[light] as number;
  fades.heldIntensity[light] = at < 0 ? 0 : (out[at] as number);
  const safeFade = fades.safeFades[light] as SafeFade;
  fades.turning[light] = 1;
  safeFade.stage = 'fading';
  safeFade.live = isLit(lights, light) ? 1 : 0;
  safeFade.safe = 0;
}

/**
 * @param wantLive whether it goes, or stays, live
 * @param hasCome whether the head is where it moves to; its light waits for it
 */
export function stepFade(
  fades: Fades,
  light: number,
  { watch }: WatchedPerformer,
  wantLive: boolean,
  { watchdog, fixtures }: Show,
  hasCome: boolean,
  dtS: number,
): SafeFade {
  const safeFade = fades.safeFades[light] as SafeFade;
  // A loss in the middle of a turn is a loss.
  if (!wantLive || safeFade.stage === 'live') fades.turning[light] = 0;
  const isTurn = fades.turning[light] === 1;
  // The performer it follows has left the stage: it goes dark as if they had left a zone, and stays dark.
  const hasLeft = watch.phase === 'off' && !wantLive;
  const lossS = fixtures[light]?.fadeS ?? watch.fadeS;
  const fadeS = isTurn ? fades.turn.returnS : hasLeft ? (fades.leaveS[light] as number) : lossS;
  const times = isTurn ? fades.turn : watchdog;
  const isDark = fades.safeIsDark[light] === true;
  stepSafeFade(safeFade, wantLive, true, isDark, dtS, fadeS, times, hasCome, hasLeft);
  fades.isLive[light] = safeFade.stage === 'live' ? 1 : 0;
  fades.inHand[light] = 1;
  return safeFade;
}

/** All at their safe values: the supervisor has taken them there. */
export function dropFades({ safeFades, isLive, turning }: Fades): void {
  for (const safeFade of safeFades) if (safeFade !== undefined) dropSafeFade(safeFade);
  isLive.fill(0);
  turning.fill(0);
}

/**
 * For each performer 1 while a fixture still shows some of their light.
 * @param driveOf by the index of the mapping
 */
export function markShown(
  shown: Uint8Array,
  { safeFades, isLive }: Fades,
  crossfades: Crossfades,
  { followed, governor }: Lights,
  driveOf: readonly (Drive | undefined)[],
): Uint8Array {
  for (let p = 0; p < shown.length; p++) shown[p] = showsAny(crossfades, p) ? 1 : 0;
  for (let i = 0; i < followed.length; i++) {
    const performer = followed[i] as number;
    if (performer < 0 || shown[performer] === 1) continue;
    // A free head is live and dark, and the performer it was last on no longer matters.
    const drive = driveOf[(governor[i] as number) - shown.length];
    if (drive !== undefined && isOnNobody(drive)) continue;
    if (isLive[i] === 1 || (safeFades[i]?.live ?? 0) > 0) shown[performer] = 1;
  }
  return shown;
}
