import { createTransition, type Regime, type Transition } from './motion.js';
import type { NoiseOptions } from './options.js';

/**
 * A bank of Kalman filters, one for each regime, over the same axes. The axes (x and y, or z alone) share one
 * covariance for each regime, because motion and noise are the same along each axis; that makes the error region
 * round and halves the arithmetic.
 *
 * State along one axis: [position, velocity, bias of tracker 0, bias of tracker 1, ...].
 * Everything that changes lies in one block of a Float64Array, so that a snapshot is one copy:
 *   weight[M] | mean[M][D][N] | covariance[M][N][N]
 */
export interface Bank extends BankScratch {
  readonly regimes: readonly Regime[];
  readonly axes: number;
  readonly states: number;
  readonly modes: number;
  readonly weight: Float64Array;
  readonly mean: Float64Array;
  readonly cov: Float64Array;
  /** For each tracker, the variance of its bias relative to the usual one. */
  readonly biasShare: Float64Array;
}

/**
 * Scratch for a bank to compute in, never part of its state. Banks of one shape may share it, and those of an engine
 * do: a hundred tracks with their own scratch would find it out of the processor's cache each time.
 */
export interface BankScratch {
  /** All regimes together: mean [D][N], and the upper half of the covariance [N][N]. */
  readonly wholeMean: Float64Array;
  readonly wholeCov: Float64Array;
  /** How far the mean of each regime is from that, [M][D][N], and its square averaged over the axes, [M][N][N]. */
  readonly apart: Float64Array;
  readonly apart2: Float64Array;
  readonly gain: Float64Array;
  /** How likely this report is in each regime, as an inlier and as an outlier, up to a common factor. */
  readonly inlier: Float64Array;
  readonly outlier: Float64Array;
  readonly innovationVar: Float64Array;
  readonly nis: Float64Array;
  readonly transitions: readonly Transition[];
  /** Filled by `momentsAhead`: mean [D][2] of position and velocity. */
  readonly outMean: Float64Array;
}

export function createBankScratch(
  regimes: readonly Regime[],
  axes: number,
  trackers: number,
): BankScratch {
  const modes = regimes.length;
  const states = 2 + trackers;
  return {
    wholeMean: new Float64Array(axes * states),
    wholeCov: new Float64Array(states * states),
    apart: new Float64Array(modes * axes * states),
    apart2: new Float64Array(modes * states * states),
    gain: new Float64Array(states),
    inlier: new Float64Array(modes),
    outlier: new Float64Array(modes),
    innovationVar: new Float64Array(modes),
    nis: new Float64Array(modes),
    transitions: Array.from({ length: modes }, createTransition),
    outMean: new Float64Array(axes * 2),
  };
}

export function bankLength(modes: number, axes: number, trackers: number): number {
  const states = 2 + trackers;
  return modes * (1 + axes * states + states * states);
}

/** A bank whose state lives in `memory` from `offset` on. */
export function createBank(
  regimes: readonly Regime[],
  axes: number,
  trackers: number,
  memory: Float64Array,
  offset: number,
  scratch = createBankScratch(regimes, axes, trackers),
): Bank {
  const modes = regimes.length;
  const states = 2 + trackers;
  const meanAt = offset + modes;
  const covAt = meanAt + modes * axes * states;
  return {
    regimes,
    axes,
    states,
    modes,
    weight: memory.subarray(offset, meanAt),
    mean: memory.subarray(meanAt, covAt),
    cov: memory.subarray(covAt, covAt + modes * states * states),
    biasShare: new Float64Array(trackers).fill(1),
    ...scratch,
  };
}

/**
 * Puts every regime at the measured place, at rest, with the uncertainty of the sensor and the regime. From
 * z = p + b + n with z known: var p = var b + var n, and p and the bias b of that tracker are opposed.
 */
export function resetBank(
  bank: Bank,
  tracker: number,
  measured: Float64Array,
  { biasM }: NoiseOptions,
  whiteVariance: number,
): void {
  const { modes, axes, states, weight, mean, cov, regimes, biasShare } = bank;
  const own = biasM * biasM * (biasShare[tracker] as number);
  mean.fill(0);
  cov.fill(0);
  for (let m = 0; m < modes; m++) {
    const regime = regimes[m] as Regime;
    weight[m] = regime.share;
    for (let d = 0; d < axes; d++) mean[(m * axes + d) * states] = measured[d] as number;
    const c = m * states * states;
    cov[c] = whiteVariance + own;
    cov[c + states + 1] = regime.speedMps * regime.speedMps;
    for (let k = 2; k < states; k++) {
      cov[c + k * states + k] = biasM * biasM * (biasShare[k - 2] as number);
    }
    cov[c + 2 + tracker] = -own;
    cov[c + (2 + tracker) * states] = -own;
  }
}

/** Of the mixture, along one axis, m/s. */
export function velocityOf({ modes, axes, states, weight, mean }: Bank, axis: number): number {
  let sum = 0;
  for (let m = 0; m < modes; m++) {
    sum += (weight[m] as number) * (mean[(m * axes + axis) * states + 1] as number);
  }
  return sum;
}

/** Squared speed of a regime, m^2/s^2. */
export function speed2Of({ axes, states, mean }: Bank, mode: number): number {
  let sum = 0;
  for (let d = 0; d < axes; d++) {
    const v = mean[(mode * axes + d) * states + 1] as number;
    sum += v * v;
  }
  return sum;
}
