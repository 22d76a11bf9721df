import type { Bank } from './bank.js';

/** A regime is never ruled out for good, and no product with its weight underflows. */
const LEAST_WEIGHT = 1e-200;

/** How one report fits the bank, before anything is changed. */
export interface Assessment {
  /** Probability that the report belongs to the track and is no outlier. */
  association: number;
  /** Normalised innovation squared of the whole mixture, `axes` degrees of freedom when matched. */
  nis: number;
  /** Length of the mixture's innovation, m. */
  innovationM: number;
  /** The mixture's innovation variance along one axis, m^2. */
  varianceM2: number;
}

export function createAssessment(): Assessment {
  return { association: 0, nis: 0, innovationM: 0, varianceM2: 0 };
}

/** For a report that was compared with nothing. */
export function clearAssessment(out: Assessment): void {
  out.association = 0;
  out.nis = 0;
  out.innovationM = 0;
  out.varianceM2 = 0;
}

export function copyAssessment(from: Readonly<Assessment>, out: Assessment): void {
  out.association = from.association;
  out.nis = from.nis;
  out.innovationM = from.innovationM;
  out.varianceM2 = from.varianceM2;
}

/** What is expected about outliers. */
export interface Outlying {
  /** Prior probability that this report is an outlier. */
  outlierPrior: number;
  /** What an outlier adds to the variance of the measurement along one axis, m^2. */
  outlierM2: number;
}

/**
 * Likelihood of a measurement z = p + b_tracker + n under each regime, as an inlier and as an
 * outlier that is spread by `outlierM2` more, and the posterior probability of its being an inlier
 * when an outlier was expected with probability `outlierPrior`. Changes nothing but scratch.
 */
export function assessMeasurement(
  bank: Bank,
  tracker: number,
  z: Float64Array,
  whiteVar: number,
  { outlierPrior, outlierM2: outlierVar }: Readonly<Outlying>,
  out: Assessment,
): void {
  const { modes, axes, states, weight, mean, cov, inlier, outlier, innovationVar, nis } = bank;
  const b = 2 + tracker;
  // The smallest exponent: the others are taken relative to it, so that they don't all underflow.
  let least = Number.POSITIVE_INFINITY;
  for (let m = 0; m < modes; m++) {
    const c = m * states * states;
    const s =
      (cov[c] as number) +
      2 * (cov[c + b] as number) +
      (cov[c + b * states + b] as number) +
      whiteVar;
    let squared = 0;
    for (let d = 0; d < axes; d++) {
      const at = (m * axes + d) * states;
      const nu = (z[d] as number) - (mean[at] as number) - (mean[at + b] as number);
      squared += nu * nu;
    }
    innovationVar[m] = s;
    nis[m] = squared / s;
    outlier[m] = squared / (s + outlierVar);
    least = Math.min(least, outlier[m] as number);
  }
  let sumIn = 0;
  let sumOut = 0;
  for (let m = 0; m < modes; m++) {
    const w = Math.max(LEAST_WEIGHT, weight[m] as number);
    const s = innovationVar[m] as number;
    const surprise = outlier[m] as number;
    inlier[m] = w * (1 - outlierPrior) * density((nis[m] as number) - least, s, axes);
    outlier[m] = w * outlierPrior * density(surprise - least, s + outlierVar, axes);
    sumIn += inlier[m] as number;
    sumOut += outlier[m] as number;
  }
  out.association = sumIn / (sumIn + sumOut);
  mixtureNis(bank, b, z, out);
}

/** Normal density, up to a common factor. */
function density(normalisedSquare: number, variance: number, axes: number): number {
  const root = axes === 2 ? variance : axes === 1 ? Math.sqrt(variance) : variance ** (axes / 2);
  return Math.exp(-0.5 * normalisedSquare) / root;
}

/** NIS of the moment-matched mixture; the per-axis spread of the means is averaged over the axes. */
function mixtureNis(bank: Bank, b: number, z: Float64Array, out: Assessment): void {
  const { modes, axes, states, weight, mean, innovationVar } = bank;
  let variance = 0;
  let squared = 0;
  for (let m = 0; m < modes; m++) variance += (weight[m] as number) * (innovationVar[m] as number);
  for (let d = 0; d < axes; d++) {
    let average = 0;
    let square = 0;
    for (let m = 0; m < modes; m++) {
      const at = (m * axes + d) * states;
      const nu = (z[d] as number) - (mean[at] as number) - (mean[at + b] as number);
      average += (weight[m] as number) * nu;
      square += (weight[m] as number) * nu * nu;
    }
    squared += average * average;
    variance += Math.max(0, square - average * average) / axes;
  }
  out.varianceM2 = variance;
  out.innovationM = Math.sqrt(squared);
  out.nis = squared / variance;
}

/**
 * Kalman update of every regime, weighted by the probability that the report is no outlier
 * (probabilistic data association with a single candidate): with association probability beta and gain K
 *   x += beta K nu,   P -= beta K S K' - beta(1 - beta) K nu nu' K'
 * and the regimes reweighted by their total likelihood. Must follow `assessMeasurement`.
 * Source: Bar-Shalom and Tse, Automatica 11:451, 1975; Blom and Bar-Shalom 1988 (both from memory).
 */
export function applyMeasurement(bank: Bank, tracker: number, z: Float64Array): void {
  const { modes, axes, states, weight, mean, cov, innovationVar, nis, gain } = bank;
  const b = 2 + tracker;
  let total = 0;
  for (let m = 0; m < modes; m++) total += (bank.inlier[m] as number) + (bank.outlier[m] as number);
  for (let m = 0; m < modes; m++) {
    const inlier = bank.inlier[m] as number;
    const both = inlier + (bank.outlier[m] as number);
    const beta = both > 0 ? inlier / both : 0;
    const s = innovationVar[m] as number;
    const c = m * states * states;
    for (let r = 0; r < states; r++)
      gain[r] = ((cov[c + r * states] as number) + (cov[c + r * states + b] as number)) / s;
    for (let d = 0; d < axes; d++) {
      const at = (m * axes + d) * states;
      const nu = beta * ((z[d] as number) - (mean[at] as number) - (mean[at + b] as number));
      for (let r = 0; r < states; r++)
        mean[at + r] = (mean[at + r] as number) + (gain[r] as number) * nu;
    }
    const shrink = beta * s - (beta * (1 - beta) * (nis[m] as number) * s) / axes;
    for (let r = 0; r < states; r++) {
      for (let q = r; q < states; q++) {
        const value =
          (cov[c + r * states + q] as number) - (gain[r] as number) * (gain[q] as number) * shrink;
        cov[c + r * states + q] = value;
        cov[c + q * states + r] = value;
      }
    }
    weight[m] = both / total;
  }
}
