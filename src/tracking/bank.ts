import { createTransition, type Regime, type Transition, transitionOver } from './motion.js';
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
export interface Bank extends BankRoom {
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
 * Room for a bank to compute in, never part of its state. Banks of one shape may share it, and those of
 * an engine do: a hundred tracks with room of their own would have it out of the processor's cache each time.
 */
export interface BankRoom {
  /** The regimes as they carry a prediction: see `createBankRoom`. */
  readonly regimesAhead: readonly Regime[];
  /** Of all regimes together, and how far the mean of one of them is from it. */
  readonly wholeMean: Float64Array;
  readonly wholeCov: Float64Array;
  readonly apart: Float64Array;
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

/**
 * In a prediction nothing is mixed, so the chance of leaving a regime is taken into the life of its
 * velocity instead: left at the rate (1 - share) / regimeMemoryS for others whose velocities die at once
 * by comparison, 1 / memory = 1 / memoryS + (1 - share) / regimeMemoryS. Nobody walks on for ever when
 * the reports have stopped.
 */
export function createBankRoom(
  regimes: readonly Regime[],
  axes: number,
  trackers: number,
  regimeMemoryS = Number.POSITIVE_INFINITY,
): BankRoom {
  const modes = regimes.length;
  const states = 2 + trackers;
  return {
    regimesAhead: regimes.map(regime => ({
      ...regime,
      memoryS: 1 / (1 / regime.memoryS + (1 - regime.share) / regimeMemoryS),
    })),
    wholeMean: new Float64Array(axes * states),
    wholeCov: new Float64Array(states * states),
    apart: new Float64Array(axes * states),
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
  room = createBankRoom(regimes, axes, trackers),
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
    ...room,
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

/**
 * Interaction (mixing) step of the IMM, then the motion of each regime over the interval.
 * Regimes are drawn anew from their shares at rate 1/regimeMemoryS, so the switching matrix is
 * exp(-T/tau) I + (1 - exp(-T/tau)) 1 shares', exact over any interval.
 * Source: Blom and Bar-Shalom, IEEE Trans. AC-33:780, 1988 (from memory).
 */
export function predictBank(
  bank: Bank,
  intervalS: number,
  regimeMemoryS: number,
  { biasM, biasMemoryS }: NoiseOptions,
): void {
  if (intervalS <= 0) return;
  mix(bank, Math.exp(-intervalS / regimeMemoryS));
  const biasKeep = Math.exp(-intervalS / biasMemoryS);
  const biasNew = biasM * biasM * (1 - biasKeep * biasKeep);
  for (let m = 0; m < bank.modes; m++) {
    const transition = bank.transitions[m] as Transition;
    transitionOver(bank.regimes[m] as Regime, intervalS, transition, speed2Of(bank, m));
    moveMode(bank, m, transition, biasKeep, biasNew);
  }
}

/**
 * Who has drawn anew comes from all regimes alike: so what a regime becomes is its own past mixed with the
 * one mixture of all of them, which is as many steps as there are regimes and not their square.
 */
function mix(bank: Bank, stay: number): void {
  const { modes, axes, states, weight, mean, cov, regimes, apart } = bank;
  const { wholeMean, wholeCov } = bank;
  if (modes === 1) return;
  momentsOfAll(bank);
  const share = 1 / axes;
  const size = states * states;
  const span = axes * states;
  for (let m = 0; m < modes; m++) {
    const stayed = stay * (weight[m] as number);
    const drawn = (1 - stay) * (regimes[m] as Regime).share;
    const own = stayed / (stayed + drawn);
    weight[m] = stayed + drawn;
    for (let a = 0; a < span; a++) {
      const off = (mean[m * span + a] as number) - (wholeMean[a] as number);
      apart[a] = off;
      mean[m * span + a] = (wholeMean[a] as number) + own * off;
    }
    for (let r = 0; r < states; r++) {
      for (let c = r; c < states; c++) {
        const k = m * size + r * states + c;
        const value =
          own * (cov[k] as number) +
          (1 - own) *
            ((wholeCov[r * states + c] as number) + own * spread(apart, states, share, r, c));
        cov[k] = value;
        cov[m * size + c * states + r] = value;
      }
    }
  }
}

/** Mean and covariance of all regimes together; of the covariance the upper half. */
function momentsOfAll(bank: Bank): void {
  const { modes, axes, states, weight, mean, cov, apart, wholeMean, wholeCov } = bank;
  const share = 1 / axes;
  const size = states * states;
  const span = axes * states;
  wholeMean.fill(0);
  wholeCov.fill(0);
  for (let m = 0; m < modes; m++) {
    const w = weight[m] as number;
    for (let a = 0; a < span; a++) {
      wholeMean[a] = (wholeMean[a] as number) + w * (mean[m * span + a] as number);
    }
  }
  for (let m = 0; m < modes; m++) {
    const w = weight[m] as number;
    for (let a = 0; a < span; a++) {
      apart[a] = (mean[m * span + a] as number) - (wholeMean[a] as number);
    }
    for (let r = 0; r < states; r++) {
      for (let c = r; c < states; c++) {
        const k = r * states + c;
        wholeCov[k] =
          (wholeCov[k] as number) +
          w * ((cov[m * size + k] as number) + spread(apart, states, share, r, c));
      }
    }
  }
}

/** Product of two components of `apart`, averaged over the axes as they share a covariance. */
function spread(apart: Float64Array, states: number, share: number, r: number, c: number): number {
  let sum = 0;
  for (let at = 0; at < apart.length; at += states) {
    sum += (apart[at + r] as number) * (apart[at + c] as number);
  }
  return share * sum;
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

/** x = F x, P = F P F' + Q for one regime, with F and Q sparse: only position, velocity and the biases' decay. */
function moveMode(
  bank: Bank,
  mode: number,
  tr: Transition,
  biasKeep: number,
  biasNew: number,
): void {
  const { axes, states, mean, cov, biasShare } = bank;
  for (let d = 0; d < axes; d++) {
    const at = (mode * axes + d) * states;
    const v = mean[at + 1] as number;
    mean[at] = (mean[at] as number) + tr.reach * v;
    mean[at + 1] = tr.keep * v;
    for (let k = 2; k < states; k++) mean[at + k] = biasKeep * (mean[at + k] as number);
  }
  const c = mode * states * states;
  const pp = cov[c] as number;
  const pv = cov[c + 1] as number;
  const vv = cov[c + states + 1] as number;
  const pv2 = tr.keep * (pv + tr.reach * vv) + tr.qpv;
  cov[c] = pp + tr.reach * (2 * pv + tr.reach * vv) + tr.qpp;
  cov[c + 1] = pv2;
  cov[c + states] = pv2;
  cov[c + states + 1] = tr.keep * tr.keep * vv + tr.qvv;
  for (let k = 2; k < states; k++) {
    const pb = cov[c + k] as number;
    const vb = cov[c + states + k] as number;
    const pb2 = biasKeep * (pb + tr.reach * vb);
    const vb2 = biasKeep * tr.keep * vb;
    cov[c + k] = pb2;
    cov[c + k * states] = pb2;
    cov[c + states + k] = vb2;
    cov[c + k * states + 1] = vb2;
    for (let l = 2; l < states; l++) {
      cov[c + k * states + l] =
        biasKeep * biasKeep * (cov[c + k * states + l] as number) +
        (k === l ? biasNew * (biasShare[k - 2] as number) : 0);
    }
  }
}
