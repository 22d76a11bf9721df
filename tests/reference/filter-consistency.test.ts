/**
 * Consistency of the two-state filter when the truth follows its model (Bar-Shalom, Li and Kirubarajan 2001,
 * 5.4, section from memory): means of the normalised innovations squared (NIS).
 * Bounds: two-sided 95 % of chi-square of N n degrees of freedom, divided by N (scipy.stats.chi2.ppf).
 */
import { expect, test } from 'vitest';
import {
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from '../../src/rehearsal/assessing/kalman.js';
import { gaussian } from '../tracking/support.js';

const SEED = 20260116;
const STEPS = 40;

interface Truth {
  position: number;
  velocity: number;
}

/** Draws the motion over an interval by the Cholesky factor of Q = q [[T^3/3, T^2/2], [T^2/2, T]]. */
function move(truth: Truth, density: number, T: number, random: () => number): void {
  const [a, b] = [random(), random()];
  // l11 = sqrt(q T^3 / 3), l21 = (q T^2 / 2) / l11, l22 = sqrt(q T - l21^2) = sqrt(q T / 4).
  truth.position += T * truth.velocity + Math.sqrt((density * T ** 3) / 3) * a;
  truth.velocity += Math.sqrt((3 * density * T) / 4) * a + Math.sqrt((density * T) / 4) * b;
}

function share(means: Float64Array, least: number, most: number): number {
  return means.filter(mean => mean >= least && mean <= most).length / means.length;
}

const mean = (values: Float64Array): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;

/**
 * One batch meets a 95 % bound only 19 times of 20 whatever the filter, so one draw says little: 200 of
 * them must be outside as often as they should, within four standard deviations.
 */
test('NIS of one axis, 50 runs: within [0.647, 1.428] as often as 95 %, and innovations are white', () => {
  const [T, density, variance, runs, batches] = [0.1, 4, 0.01, 50, 200];
  const random = gaussian(SEED);
  const noise = whiteAcceleration(density, T, { q11: 0, q12: 0, q22: 0 });
  const levels = new Float64Array(batches);
  const correlations = new Float64Array(batches);
  let stepsWithin = 0;
  for (let batch = 0; batch < batches; batch++) {
    const means = new Float64Array(STEPS);
    let [products, pairs] = [0, 0];
    for (let run = 0; run < runs; run++) {
      const truth = { position: 0.1 * random(), velocity: 1.5 * random() };
      const axis = { position: 0, velocity: 0 };
      const p = { p11: 0.01, p12: 0, p22: 2.25 };
      const k = { k1: 0, k2: 0 };
      let before: number | undefined;
      for (let step = 0; step < STEPS; step++) {
        move(truth, density, T, random);
        predictState(axis, T);
        predictCovariance(p, T, noise);
        const innovation = truth.position + Math.sqrt(variance) * random() - axis.position;
        const normalised = innovation / Math.sqrt(p.p11 + variance);
        means[step] = (means[step] ?? 0) + normalised ** 2 / runs;
        if (before !== undefined) {
          products += before * normalised;
          pairs++;
        }
        before = normalised;
        updateCovariance(p, variance, k);
        updateState(axis, k, innovation);
      }
    }
    stepsWithin += share(means, 0.647, 1.428) / batches;
    // In standard deviations: innovations of all steps are independent, and so are their products.
    levels[batch] = (mean(means) - 1) / Math.sqrt(2 / (runs * STEPS));
    correlations[batch] = products / Math.sqrt(pairs);
  }
  const within = (count: number) => 4 * Math.sqrt((0.95 * 0.05) / count);
  expect(Math.abs(stepsWithin - 0.95)).toBeLessThan(within(batches * STEPS));
  for (const deviations of [levels, correlations]) {
    expect(Math.abs(share(deviations, -1.96, 1.96) - 0.95)).toBeLessThan(within(batches));
    expect(Math.abs(mean(deviations))).toBeLessThan(4 / Math.sqrt(batches));
  }
});
