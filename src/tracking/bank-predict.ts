import { type Bank, speed2Of } from './bank.js';
import { type Regime, reachOver, type Transition, transitionOver } from './motion.js';
import type { NoiseOptions } from './options.js';

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
 * After a new draw the past comes from all regimes alike: so a regime becomes its own past mixed with the one mixture
 * of all of them, which takes as many steps as there are regimes, not their square.
 */
function mix(bank: Bank, stay: number): void {
  const { modes, axes, states, weight, mean, cov, regimes } = bank;
  const { wholeMean, wholeCov, apart, apart2 } = bank;
  if (modes === 1) return;
  momentsOfAll(bank);
  const size = states * states;
  const span = axes * states;
  for (let m = 0; m < modes; m++) {
    const stayed = stay * (weight[m] as number);
    const drawn = (1 - stay) * (regimes[m] as Regime).share;
    const own = stayed / (stayed + drawn);
    weight[m] = stayed + drawn;
    for (let a = 0; a < span; a++) {
      mean[m * span + a] = (wholeMean[a] as number) + own * (apart[m * span + a] as number);
    }
    for (let r = 0; r < states; r++) {
      for (let c = r; c < states; c++) {
        const k = r * states + c;
        const at = m * size + k;
        const others = (wholeCov[k] as number) + own * (apart2[at] as number);
        const value = own * (cov[at] as number) + (1 - own) * others;
        cov[at] = value;
        cov[m * size + c * states + r] = value;
      }
    }
  }
}

/** Mean and covariance of all regimes together, and how far each is from it: see BankScratch. */
function momentsOfAll(bank: Bank): void {
  const { modes, axes, states, weight, mean, cov, wholeMean, wholeCov, apart, apart2 } = bank;
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
    const first = m * span;
    for (let a = 0; a < span; a++) {
      apart[first + a] = (mean[first + a] as number) - (wholeMean[a] as number);
    }
    for (let r = 0; r < states; r++) {
      for (let c = r; c < states; c++) {
        let sum = 0;
        for (let at = first; at < first + span; at += states) {
          sum += (apart[at + r] as number) * (apart[at + c] as number);
        }
        const k = r * states + c;
        apart2[m * size + k] = share * sum;
        wholeCov[k] = (wholeCov[k] as number) + w * ((cov[m * size + k] as number) + share * sum);
      }
    }
  }
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

/** As `momentsAhead`, where only the mean positions are wanted; the velocities in `outMean` are left 0. */
export function placesAhead(bank: Bank, aheadS: number): void {
  const { modes, axes, states, weight, mean, outMean } = bank;
  outMean.fill(0);
  for (let m = 0; m < modes; m++) {
    const reach = reachOver(bank.regimes[m] as Regime, aheadS, speed2Of(bank, m));
    const w = weight[m] as number;
    for (let d = 0; d < axes; d++) {
      const at = (m * axes + d) * states;
      const v = mean[at + 1] as number;
      const p = (mean[at] as number) - (mean[d * states] as number) + reach * v;
      outMean[d * 2] = (outMean[d * 2] as number) + w * p;
    }
  }
  for (let d = 0; d < axes; d++) {
    outMean[d * 2] = (outMean[d * 2] as number) + (mean[d * states] as number);
  }
}

/**
 * Mean and variance of the mixture `aheadS` seconds on, each regime carried by its own motion.
 * Fills bank.outMean (position, velocity per axis); returns the variance of the position along one
 * axis, the spread between the regimes included.
 */
export function momentsAhead(bank: Bank, aheadS: number): number {
  const { modes, axes, states, weight, mean, cov, outMean } = bank;
  outMean.fill(0);
  let variance = 0;
  let second = 0;
  // Positions are taken relative to regime 0, so that the squares don't cancel far from the origin.
  for (let m = 0; m < modes; m++) {
    const tr = bank.transitions[m] as Transition;
    transitionOver(bank.regimes[m] as Regime, aheadS, tr, speed2Of(bank, m));
    const w = weight[m] as number;
    const c = m * states * states;
    variance +=
      w *
      ((cov[c] as number) +
        tr.reach * (2 * (cov[c + 1] as number) + tr.reach * (cov[c + states + 1] as number)) +
        tr.qpp);
    for (let d = 0; d < axes; d++) {
      const at = (m * axes + d) * states;
      const v = mean[at + 1] as number;
      const p = (mean[at] as number) - (mean[d * states] as number) + tr.reach * v;
      outMean[d * 2] = (outMean[d * 2] as number) + w * p;
      outMean[d * 2 + 1] = (outMean[d * 2 + 1] as number) + w * tr.keep * v;
      second += w * p * p;
    }
  }
  for (let d = 0; d < axes; d++) {
    second -= (outMean[d * 2] as number) ** 2;
    outMean[d * 2] = (outMean[d * 2] as number) + (mean[d * states] as number);
  }
  return variance + Math.max(0, second) / axes;
}
