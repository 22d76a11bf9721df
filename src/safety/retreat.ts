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
export const RETREAT_STAGES = ['live', 'fading', 'to-safe', 'safe', 'to-live', 'rising'] as const;
export type RetreatStage = (typeof RETREAT_STAGES)[number];

export interface Retreat {
  stage: RetreatStage;
  /** Share of the live intensity, 0..1. */
  live: number;
  /** Share of the safe intensity, 0..1. */
  safe: number;
  /** How far the move in the dark has come, 0..1; meaningful in to-safe and to-live. */
  move: number;
  /** For how long the move has waited for the head, beyond its time, seconds. */
  waitedS: number;
  /** A move began in this step: the caller notes the aim from which it starts. */
  departed: boolean;
}

/** At its safe values, whatever it was doing. */
export function dropRetreat(retreat: Retreat): void {
  retreat.stage = 'safe';
  retreat.live = 0;
  retreat.safe = 1;
  retreat.move = 0;
  retreat.departed = false;
}

/** At its live values, whatever it was doing. */
export function showLive(retreat: Retreat): void {
  retreat.stage = 'live';
  retreat.live = 1;
  retreat.safe = 0;
  retreat.move = 0;
  retreat.departed = false;
}

export interface RetreatTimes {
  /** Live to dark (or to safe, for a fixture that can't move), and dark to safe, seconds. */
  readonly fadeS: number;
  /** Safe to dark, and dark to live, seconds. */
  readonly returnS: number;
  /** Between the two aims, in the dark, seconds. */
  readonly moveS: number;
}

export function createRetreat(): Retreat {
  return { stage: 'safe', live: 0, safe: 1, move: 0, waitedS: 0, departed: false };
}

/**
 * @param moves whether the fixture has a pan or a tilt
 * @param safeIsDark whether the safe intensity is 0: there is then nothing to fade up or down
 * @param dtS seconds since the last step, at least 0
 * @param fadeS live to safe, seconds
 * @param hasArrived whether the head is where it moves to, as far as is known; its light waits for it
 * @param staysDark whether it shows no safe intensity, where it is to be safe: nothing is lost
 */
export function stepRetreat(
  retreat: Retreat,
  wantLive: boolean,
  moves: boolean,
  safeIsDark: boolean,
  dtS: number,
  fadeS: number,
  times: Pick<RetreatTimes, 'returnS' | 'moveS'>,
  hasArrived = true,
  staysDark = false,
): void {
  retreat.departed = false;
  if (!moves) {
    crossfade(retreat, wantLive, dtS, fadeS, times.returnS);
    return;
  }
  switch (retreat.stage) {
    case 'live':
      if (!wantLive) retreat.stage = 'fading';
      break;
    case 'fading':
      retreat.live = fall(retreat.live, dtS, fadeS);
      if (retreat.live === 0) depart(retreat, wantLive ? 'to-live' : 'to-safe');
      break;
    case 'to-safe':
      if (wantLive) depart(retreat, 'to-live');
      else {
        if (hasMoved(retreat, dtS, times.moveS, hasArrived)) {
          retreat.stage = 'safe';
          retreat.safe = safeIsDark ? 1 : 0;
        }
      }
      break;
    case 'safe':
      if (!wantLive) retreat.safe = (staysDark ? fall : rise)(retreat.safe, dtS, fadeS);
      else {
        retreat.safe = safeIsDark ? 0 : fall(retreat.safe, dtS, times.returnS);
        if (retreat.safe === 0) depart(retreat, 'to-live');
      }
      break;
    case 'to-live':
      if (!wantLive) depart(retreat, 'to-safe');
      else {
        if (hasMoved(retreat, dtS, times.moveS, hasArrived)) retreat.stage = 'rising';
      }
      break;
    case 'rising':
      if (!wantLive) retreat.stage = 'fading';
      else {
        retreat.live = rise(retreat.live, dtS, times.returnS);
        if (retreat.live === 1) retreat.stage = 'live';
      }
      break;
    default:
      unreachable(retreat.stage);
  }
}

function crossfade(
  retreat: Retreat,
  wantLive: boolean,
  dtS: number,
  fadeS: number,
  returnS: number,
): void {
  retreat.live = wantLive ? rise(retreat.live, dtS, returnS) : fall(retreat.live, dtS, fadeS);
  retreat.safe = 1 - retreat.live;
  if (retreat.live === 1) retreat.stage = 'live';
  else if (retreat.live === 0) retreat.stage = 'safe';
  else retreat.stage = wantLive ? 'rising' : 'fading';
}

/** No head needs longer, 540 degrees at 20 a second; one that never arrives is not waited for for ever. */
const LONGEST_WAIT_S = 30;

function hasMoved(retreat: Retreat, dtS: number, moveS: number, hasArrived: boolean): boolean {
  retreat.move = rise(retreat.move, dtS, moveS);
  if (retreat.move < 1) return false;
  if (hasArrived) return true;
  retreat.waitedS += dtS;
  return retreat.waitedS >= LONGEST_WAIT_S;
}

function depart(retreat: Retreat, stage: 'to-safe' | 'to-live'): void {
  retreat.stage = stage;
  retreat.move = 0;
  retreat.waitedS = 0;
  retreat.departed = true;
  retreat.safe = 0;
}

export function isFullyLive(retreat: Readonly<Retreat>): boolean {
  return retreat.stage === 'live';
}

export function isFullySafe(retreat: Readonly<Retreat>): boolean {
  return retreat.stage === 'safe' && retreat.safe === 1;
}

/**
 * Value of a channel that isn't intensity (aim, colour, beam) of a fixture that moves.
 * @param from where it stood when the move began
 */
export function movedValue(
  retreat: Readonly<Retreat>,
  from: number,
  live: number,
  safe: number,
): number {
  switch (retreat.stage) {
    case 'live':
    case 'rising':
    case 'fading':
      return live;
    case 'to-safe':
      return from + eased(retreat.move) * (safe - from);
    case 'safe':
      return safe;
    case 'to-live':
      return from + eased(retreat.move) * (live - from);
    default:
      return unreachable(retreat.stage);
  }
}

/**
 * Value of a channel that has nothing between two values (a wheel, a shutter): the live one for as long as
 * any live light shows; of a fixture that moves, the other one as soon as it is dark.
 * @param from where it stood when the move began
 */
export function steppedValue(
  retreat: Readonly<Retreat>,
  moves: boolean,
  from: number,
  live: number,
  safe: number,
): number {
  if (!moves) return retreat.live > 0 ? live : safe;
  switch (retreat.stage) {
    case 'live':
    case 'rising':
    case 'fading':
      return live;
    case 'to-safe':
      return retreat.move > 0 ? safe : from;
    case 'safe':
      return safe;
    case 'to-live':
      return retreat.move > 0 ? live : from;
    default:
      return unreachable(retreat.stage);
  }
}

/** Smooth start and stop: 3 a^2 - 2 a^3, so the speed is 0 at both ends. */
function eased(share: number): number {
  return share * share * (3 - 2 * share);
}
