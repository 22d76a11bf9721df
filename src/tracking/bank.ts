import { createTransition, type Regime, type Transition } from './motion.js';
import type { NoiseOptions } from './options.js';

/**
 * A bank of Kalman filters, one a regime, over the same axes. The axes (x and y, or z alone) share
 * one covariance a regime, because motion and noise are the same along each of them; that makes the
 * error region round and the arithmetic half as long.
 *
 * State along one axis: [position, velocity, bias of tracker 0, bias of tracker 1, ...].
 * Everything that changes lies in one stretch of a Float64Array, so that a snapshot is one copy:
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
  /** For each tracker, the variance of its bias as a share of the usual. */
  readonly biasShare: Float64Array;
}

/**
 * Scratch for a bank to compute in, never part of its state. Banks of one shape may share it, and those of
 * an engine do: a hundred tracks with scratch of their own would have it out of the processor's cache each time.
 */
export interface BankScratch {
  /** Of all regimes together: mean [D][N], and of the covariance [N][N] the upper half. */
  readonly wholeMean: Float64Array;
  readonly wholeCov: Float64Array;
  /** How far the mean of each regime is from that, [M][D][N], and its square, averaged over the axes, [M][N][N]. */
  readonly apart: Float64Array;
  readonly apart2: Float64Array;
  readonly gain: Float64Array;
  /** How likely the report in hand is in each regime, as an inlier and as an outlier, up to one factor. */
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
 * Puts every regime at the measured place, at rest, as uncertain as the sensor and the regime are. From
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

/** Square of the speed that a regime has, m^2/s^2. */
export function speed2Of({ axes, states, mean }: Bank, mode: number): number {
  let sum = 0;
  for (let d = 0; d < axes; d++) {
    const v = mean[(mode * axes + d) * states + 1] as number;
    sum += v * v;
  }
  return sum;
}
