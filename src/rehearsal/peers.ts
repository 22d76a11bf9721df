import { unreachable } from '../stage/unreachable.js';
import type { Sighting } from '../tracking/sighting.js';
import {
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from './kalman.js';

/** Something that follows a performer across the floor: what the tracker has to be better than. */
export interface Follower {
  /** Reports in the order of their times, no two at the same. */
  see(sighting: Readonly<Sighting>): void;
  /** Where it takes them to be at a time after the last report: x, y, metres. */
  at(timeS: number): readonly [x: number, y: number];
}

export const PEERS = ['hold', 'exponential', 'oneEuro', 'constantVelocity'] as const;
export type PeerName = (typeof PEERS)[number];

export function createPeer(name: PeerName): Follower {
  switch (name) {
    case 'hold':
      return hold();
    case 'exponential':
      return exponential(0.2);
    case 'oneEuro':
      return oneEuro({ minCutoffHz: 1, beta: 0.5, slopeCutoffHz: 1 });
    case 'constantVelocity':
      return constantVelocity({ accelerationDensity: 2, noiseM: 0.1 });
    default:
      return unreachable(name);
  }
}

/** Where they were reported last. */
function hold(): Follower {
  let last: readonly [number, number] = [0, 0];
  return {
    see({ x, y }) {
      last = [x, y];
    },
    at: () => last,
  };
}

/** Exponential smoothing, x += (1 - exp(-T / tau)) (z - x), right at any interval T. */
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
export function oneEuro(options: OneEuroOptions): Follower {
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

export interface ConstantVelocityOptions {
  /** q of the white acceleration, m^2/s^3. */
  readonly accelerationDensity: number;
  readonly noiseM: number;
}

/** The two-state Kalman filter of kalman.ts on both axes, without a gate. */
export function constantVelocity(options: ConstantVelocityOptions): Follower {
  const { accelerationDensity, noiseM } = options;
  const x = { position: 0, velocity: 0 };
  const y = { position: 0, velocity: 0 };
  // Nothing known: anywhere on a stage, as fast as a runner.
  const p = { p11: 100, p12: 0, p22: 4 };
  const noise = { q11: 0, q12: 0, q22: 0 };
  const gain = { k1: 0, k2: 0 };
  let seenS: number | undefined;
  return {
    see(sighting) {
      const intervalS = seenS === undefined ? 0 : sighting.timeS - seenS;
      seenS = sighting.timeS;
      predictState(x, intervalS);
      predictState(y, intervalS);
      predictCovariance(p, intervalS, whiteAcceleration(accelerationDensity, intervalS, noise));
      updateCovariance(p, noiseM ** 2, gain);
      updateState(x, gain, sighting.x - x.position);
      updateState(y, gain, sighting.y - y.position);
    },
    at(timeS) {
      const aheadS = timeS - (seenS ?? timeS);
      return [x.position + aheadS * x.velocity, y.position + aheadS * y.velocity];
    },
  };
}
