import { unreachable } from '../stage/unreachable.js';
import { fall, rise } from './ramp.js';

/**
 * How one fixture goes from live to safe and back: intensity first, movement after. A fixture that
 * can't move crossfades. One that can holds its aim while it fades out, moves in the dark, and only
 * then comes up to its safe intensity; the same backwards on return. Once its fade has begun it goes
 * to dark even if all is well again in the meantime: coming back in mid-fade would swing the beam
 * through the light to where the performer is now.
 *
 *   live -> fading -> to-safe -> safe -> to-live -> rising -> live
 *
 * intensity = live * liveIntensity + safe * safeIntensity; for a fixture that moves, one of the two
 * shares is always 0, and both are while it moves.
 */
export const SAFE_FADE_STAGES = ['live', 'fading', 'to-safe', 'safe', 'to-live', 'rising'] as const;
export type SafeFadeStage = (typeof SAFE_FADE_STAGES)[number];

export interface SafeFade {
  stage: SafeFadeStage;
  /** Share of the live intensity, 0..1. */
  live: number;
  /** Share of the safe intensity, 0..1. */
  safe: number;
  /** How far the move in the dark has come, 0..1; meaningful in to-safe and to-live. */
  move: number;
  /** How long the move has waited for the head, beyond its own time, seconds. */
  waitedS: number;
  /** A move began in this step: the caller notes the aim from which it starts. */
  departed: boolean;
}

/** Puts it at its safe values, whatever it was doing. */
export function dropSafeFade(safeFade: SafeFade): void {
  rest(safeFade, 'safe', 0, 1);
}

/** Puts it at its live values, whatever it was doing. */
export function showLive(safeFade: SafeFade): void {
  rest(safeFade, 'live', 1, 0);
}

function rest(safeFade: SafeFade, stage: 'live' | 'safe', live: number, safe: number): void {
  safeFade.stage = stage;
  safeFade.live = live;
  safeFade.safe = safe;
  safeFade.move = 0;
  safeFade.departed = false;
}

export interface SafeFadeTimes {
  /** Live to dark (or to safe, for a fixture that can't move), and dark to safe, seconds. */
  readonly fadeS: number;
  /** Safe to dark, and dark to live, seconds. */
  readonly returnS: number;
  /** Between the two aims, in the dark, seconds. */
  readonly moveS: number;
}

export function createSafeFade(): SafeFade {
  return { stage: 'safe', live: 0, safe: 1, move: 0, waitedS: 0, departed: false };
}

/**
 * @param moves whether the fixture has a pan or a tilt
 * @param safeIsDark whether the safe intensity is 0: there is then nothing to fade up or down
 * @param dtS seconds since the last step, at least 0
 * @param fadeS live to safe, seconds
 * @param hasArrived whether the head is where it moves to, as far as is known; its light waits for it
 * @param staysDark whether it stays dark instead of showing its safe intensity, because nothing is lost
 */
export function stepSafeFade(
  safeFade: SafeFade,
  wantLive: boolean,
  moves: boolean,
  safeIsDark: boolean,
  dtS: number,
  fadeS: number,
  times: Pick<SafeFadeTimes, 'returnS' | 'moveS'>,
  hasArrived = true,
  staysDark = false,
): void {
  safeFade.departed = false;
  if (!moves) {
    crossfade(safeFade, wantLive, dtS, fadeS, times.returnS);
    return;
  }
  switch (safeFade.stage) {
    case 'live':
      if (!wantLive) safeFade.stage = 'fading';
      break;
    case 'fading':
      safeFade.live = fall(safeFade.live, dtS, fadeS);
      if (safeFade.live === 0) depart(safeFade, wantLive ? 'to-live' : 'to-safe');
      break;
    case 'to-safe':
      if (wantLive) depart(safeFade, 'to-live');
      else {
        if (hasMoved(safeFade, dtS, times.moveS, hasArrived)) {
          safeFade.stage = 'safe';
          safeFade.safe = safeIsDark ? 1 : 0;
        }
      }
      break;
    case 'safe':
      if (!wantLive) safeFade.safe = (staysDark ? fall : rise)(safeFade.safe, dtS, fadeS);
      else {
        safeFade.safe = safeIsDark ? 0 : fall(safeFade.safe, dtS, times.returnS);
        if (safeFade.safe === 0) depart(safeFade, 'to-live');
      }
      break;
    case 'to-live':
      if (!wantLive) depart(safeFade, 'to-safe');
      else {
        if (hasMoved(safeFade, dtS, times.moveS, hasArrived)) safeFade.stage = 'rising';
      }
      break;
    case 'rising':
      if (!wantLive) safeFade.stage = 'fading';
      else {
        safeFade.live = rise(safeFade.live, dtS, times.returnS);
        if (safeFade.live === 1) safeFade.stage = 'live';
      }
      break;
    default:
      unreachable(safeFade.stage);
  }
}

function crossfade(
  safeFade: SafeFade,
  wantLive: boolean,
  dtS: number,
  fadeS: number,
  returnS: number,
): void {
  safeFade.live = wantLive ? rise(safeFade.live, dtS, returnS) : fall(safeFade.live, dtS, fadeS);
  safeFade.safe = 1 - safeFade.live;
  if (safeFade.live === 1) safeFade.stage = 'live';
  else if (safeFade.live === 0) safeFade.stage = 'safe';
  else safeFade.stage = wantLive ? 'rising' : 'fading';
}

/** No head needs longer (540 degrees at 20 a second); a head that never arrives is not waited for for ever. */
const LONGEST_WAIT_S = 30;

function hasMoved(safeFade: SafeFade, dtS: number, moveS: number, hasArrived: boolean): boolean {
  safeFade.move = rise(safeFade.move, dtS, moveS);
  if (safeFade.move < 1) return false;
  if (hasArrived) return true;
  safeFade.waitedS += dtS;
  return safeFade.waitedS >= LONGEST_WAIT_S;
}

function depart(safeFade: SafeFade, stage: 'to-safe' | 'to-live'): void {
  safeFade.stage = stage;
  safeFade.move = 0;
  safeFade.waitedS = 0;
  safeFade.departed = true;
  safeFade.safe = 0;
}

export function isFullyLive(safeFade: Readonly<SafeFade>): boolean {
  return safeFade.stage === 'live';
}

export function isFullySafe(safeFade: Readonly<SafeFade>): boolean {
  return safeFade.stage === 'safe' && safeFade.safe === 1;
}

/**
 * Value of a channel that isn't intensity (aim, colour, beam) of a fixture that moves.
 * @param from where it stood when the move began
 */
export function movedValue(
  safeFade: Readonly<SafeFade>,
  from: number,
  live: number,
  safe: number,
): number {
  switch (safeFade.stage) {
    case 'live':
    case 'rising':
    case 'fading':
      return live;
    case 'to-safe':
      return from + eased(safeFade.move) * (safe - from);
    case 'safe':
      return safe;
    case 'to-live':
      return from + eased(safeFade.move) * (live - from);
    default:
      return unreachable(safeFade.stage);
  }
}

/**
 * Value of a channel that has nothing between two values (a wheel, a shutter): the live one for as long as
 * any live light shows; of a fixture that moves, the other one as soon as it is dark.
 * @param from where it stood when the move began
 */
export function steppedValue(
  safeFade: Readonly<SafeFade>,
  moves: boolean,
  from: number,
  live: number,
  safe: number,
): number {
  if (!moves) return safeFade.live > 0 ? live : safe;
  switch (safeFade.stage) {
    case 'live':
    case 'rising':
    case 'fading':
      return live;
    case 'to-safe':
      return safeFade.move > 0 ? safe : from;
    case 'safe':
      return safe;
    case 'to-live':
      return safeFade.move > 0 ? live : from;
    default:
      return unreachable(safeFade.stage);
  }
}

/** Smooth start and stop: 3 a^2 - 2 a^3, so the speed is 0 at both ends. */
function eased(share: number): number {
  return share * share * (3 - 2 * share);
}
