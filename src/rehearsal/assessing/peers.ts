import { unreachable } from '../../stage/unreachable.js';
import type { Sighting } from '../../tracking/sighting.js';
import {
  dampedAcceleration,
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
} from './kalman.js';

/** Something that follows a performer across the floor: the tracker, or a peer that it is compared with. */
export interface Follower {
  /** Reports in the order of their times, no two at the same. */
  see(sighting: Readonly<Sighting>): void;
  /** Where it puts them at a time after the last report: x, y of the stage frame, metres. */
  at(timeS: number): readonly [x: number, y: number];
}

/**
 * The simple ways that anybody could put together in an afternoon. Each stands behind the speed gate
 * (`createPeer`). Only the holding that errors are given as shares of has none (`createUngatedPeer`).
 */
export type PeerSetting =
  | { readonly kind: 'hold' }
  | { readonly kind: 'exponential'; readonly timeConstantS: number }
  | ({ readonly kind: 'oneEuro' } & OneEuroOptions)
  | ({ readonly kind: 'dampedVelocity' } & DampedVelocityOptions);

/**
 * Settings found on the development recordings alone (tests/fixtures/data/tracking) by
 * scripts/tune-peers.mjs: the best of each way for several degrees of steadiness. They are fixed: a peer
 * tuned to the file that it is judged on would prove nothing.
 */
export const PEER_SETTINGS: readonly PeerSetting[] = [
  { kind: 'hold' },
  { kind: 'exponential', timeConstantS: 0.02 },
  { kind: 'exponential', timeConstantS: 0.06 },
  { kind: 'exponential', timeConstantS: 0.1 },
  { kind: 'exponential', timeConstantS: 0.2 },
  { kind: 'oneEuro', minCutoffHz: 0.5, beta: 0.25, slopeCutoffHz: 0.5 },
  { kind: 'oneEuro', minCutoffHz: 0.5, beta: 1, slopeCutoffHz: 0.5 },
  { kind: 'oneEuro', minCutoffHz: 0.5, beta: 4, slopeCutoffHz: 0.5 },
  { kind: 'oneEuro', minCutoffHz: 4, beta: 4, slopeCutoffHz: 1 },
  { kind: 'dampedVelocity', memoryS: 8, accelerationDensity: 0.12, noiseM: 0.9 },
  { kind: 'dampedVelocity', memoryS: 8, accelerationDensity: 0.25, noiseM: 0.9 },
  { kind: 'dampedVelocity', memoryS: 8, accelerationDensity: 0.12, noiseM: 0.45 },
  { kind: 'dampedVelocity', memoryS: 4, accelerationDensity: 0.25, noiseM: 0.45 },
  { kind: 'dampedVelocity', memoryS: 4, accelerationDensity: 1, noiseM: 0.45 },
  { kind: 'dampedVelocity', memoryS: 4, accelerationDensity: 2, noiseM: 0.45 },
  { kind: 'dampedVelocity', memoryS: 2, accelerationDensity: 2, noiseM: 0.45 },
  { kind: 'dampedVelocity', memoryS: 2, accelerationDensity: 0.5, noiseM: 0.2 },
  { kind: 'dampedVelocity', memoryS: 2, accelerationDensity: 4, noiseM: 0.1 },
];

/** In words, short enough for a table. */
export function peerLabel(setting: PeerSetting): string {
  switch (setting.kind) {
    case 'hold':
      return 'hold, gated';
    case 'exponential':
      return `exponential ${setting.timeConstantS} s`;
    case 'oneEuro':
      return `1-euro ${setting.minCutoffHz} Hz, ${setting.beta}`;
    case 'dampedVelocity':
      return `damped ${setting.memoryS} s, ${setting.accelerationDensity} m²/s³, ${setting.noiseM} m`;
    default:
      return unreachable(setting);
  }
}

/** A peer behind the speed gate. */
export function createPeer(setting: PeerSetting): Follower {
  return gated(createUngatedPeer(setting));
}

export function createUngatedPeer(setting: PeerSetting): Follower {
  switch (setting.kind) {
    case 'hold':
      return hold();
    case 'exponential':
      return exponential(setting.timeConstantS);
    case 'oneEuro':
      return oneEuro(setting);
    case 'dampedVelocity':
      return dampedVelocity(setting);
    default:
      return unreachable(setting);
  }
}

/** Above a brisk run on a stage plus the noise of two reports in a row. Common practice. */
const GATE_SPEED_MPS = 4;
const GATE_SLACK_M = 0.6;
const GATE_PATIENCE_S = 2;

/**
 * A plain speed gate. A report that is farther from the last accepted one than 0.6 m plus 4 m/s times
 * the time between them is left out, until nothing has been accepted for 2 s.
 */
function gated(follower: Follower): Follower {
  let passedS = Number.NEGATIVE_INFINITY;
  let [x, y] = [0, 0];
  return {
    see(sighting) {
      const sinceS = sighting.timeS - passedS;
      const needed = Math.hypot(sighting.x - x, sighting.y - y);
      if (sinceS <= GATE_PATIENCE_S && needed > GATE_SLACK_M + GATE_SPEED_MPS * sinceS) return;
      passedS = sighting.timeS;
      x = sighting.x;
      y = sighting.y;
      follower.see(sighting);
    },
    at: timeS => follower.at(timeS),
  };
}

/** Holds the last report. */
function hold(): Follower {
  let last: readonly [number, number] = [0, 0];
  return {
    see({ x, y }) {
      last = [x, y];
    },
    at: () => last,
  };
}

/** Exponential smoothing, x += (1 - exp(-T / tau)) (z - x), exact for any interval T. */
function exponential(timeConstantS: number): Follower {
  let seenS: number | undefined;
  let [x, y] = [0, 0];
  return {
    see(sighting) {
      const share =
        seenS === undefined ? 1 : -Math.expm1(-(sighting.timeS - seenS) / timeConstantS);
      x += share * (sighting.x - x);
      y += share * (sighting.y - y);
      seenS = sighting.timeS;
    },
    at: () => [x, y],
  };
}

export interface OneEuroOptions {
  readonly minCutoffHz: number;
  /** Rise of the cutoff with the speed, Hz a metre a second. */
  readonly beta: number;
  readonly slopeCutoffHz: number;
}

/**
 * The 1-euro filter on each axis (Casiez, Roussel and Vogel, CHI 2012, formulas from memory; held in
 * tests against a series of the authors' package 1eurofilter 1.3.0): a low-pass
 * x = a z + (1 - a) x, a = 1 / (1 + 1 / (2 pi f T)), whose cutoff f = minCutoff + beta |slope| rises
 * with the slope, which is smoothed the same way at a cutoff of its own.
 */
function oneEuro(options: OneEuroOptions): Follower {
  const axes = [createOneEuroAxis(options), createOneEuroAxis(options)] as const;
  let [x, y] = [0, 0];
  return {
    see(sighting) {
      x = axes[0](sighting.x, sighting.timeS);
      y = axes[1](sighting.y, sighting.timeS);
    },
    at: () => [x, y],
  };
}

function createOneEuroAxis({ minCutoffHz, beta, slopeCutoffHz }: OneEuroOptions) {
  let seenS: number | undefined;
  let value = 0;
  let slope = 0;
  return (measured: number, timeS: number): number => {
    if (seenS === undefined) {
      value = measured;
    } else {
      const intervalS = timeS - seenS;
      const alpha = (cutoffHz: number) => 1 / (1 + 1 / (2 * Math.PI * cutoffHz * intervalS));
      slope += alpha(slopeCutoffHz) * ((measured - value) / intervalS - slope);
      value += alpha(minCutoffHz + beta * Math.abs(slope)) * (measured - value);
    }
    seenS = timeS;
    return value;
  };
}

export interface DampedVelocityOptions {
  /** Time constant with which the velocity dies out, seconds. */
  readonly memoryS: number;
  /** q of the white acceleration, m^2/s^3. */
  readonly accelerationDensity: number;
  readonly noiseM: number;
}

/** The two-state Kalman filter of kalman.ts on both axes, with a velocity that dies out. */
function dampedVelocity(options: DampedVelocityOptions): Follower {
  const { memoryS, accelerationDensity, noiseM } = options;
  const x = { position: 0, velocity: 0 };
  const y = { position: 0, velocity: 0 };
  // Nothing known: anywhere on a stage, as fast as a runner.
  const p = { p11: 100, p12: 0, p22: 4 };
  const noise = { q11: 0, q12: 0, q22: 0 };
  const gain = { k1: 0, k2: 0 };
  const reach = (intervalS: number) => -memoryS * Math.expm1(-intervalS / memoryS);
  let seenS: number | undefined;
  return {
    see(sighting) {
      const intervalS = seenS === undefined ? 0 : sighting.timeS - seenS;
      const [reachS, keep] = [reach(intervalS), Math.exp(-intervalS / memoryS)];
      seenS = sighting.timeS;
      predictState(x, reachS, keep);
      predictState(y, reachS, keep);
      const added = dampedAcceleration(accelerationDensity, memoryS, intervalS, noise);
      predictCovariance(p, reachS, added, keep);
      updateCovariance(p, noiseM ** 2, gain);
      updateState(x, gain, sighting.x - x.position);
      updateState(y, gain, sighting.y - y.position);
    },
    at(timeS) {
      const aheadS = reach(timeS - (seenS ?? timeS));
      return [x.position + aheadS * x.velocity, y.position + aheadS * y.velocity];
    },
  };
}
