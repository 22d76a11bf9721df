/** The filter against two independent implementations, and against the truth of its own model. */
import fc from 'fast-check';
import { KalmanFilter, type State } from 'kalman-filter';
import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import {
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from '../../src/tracking/kalman.js';
import { DEFAULT_TRACKING_OPTIONS, type TrackingOptions } from '../../src/tracking/options.js';
import { createEstimate, createTrack, observe, predict } from '../../src/tracking/track.js';
import { gaussian, sighting } from '../tracking/support.js';

const SEED = 20260113;

/** kalman-filter 2.3.0 (MIT) multiplies general matrices; a fixed interval, as it wants. */
test('kalman-filter (npm) agrees to 1e-9 on a series of one axis', () => {
  const [T, density, variance] = [0.1, 4, 0.01];
  const Q = whiteAcceleration(density, T, { q11: 0, q12: 0, q22: 0 });
  const peer = new KalmanFilter({
    observation: { dimension: 1, stateProjection: [[1, 0]], covariance: [[variance]] },
    dynamic: {
      dimension: 2,
      init: {
        mean: [[0.5], [-1]],
        covariance: [
          [1, 0.2],
          [0.2, 2],
        ],
      },
      transition: [
        [1, T],
        [0, 1],
      ],
      covariance: [
        [Q.q11, Q.q12],
        [Q.q12, Q.q22],
      ],
    },
  });
  const axis = { position: 0.5, velocity: -1 };
  const p = { p11: 1, p12: 0.2, p22: 2 };
  const k = { k1: 0, k2: 0 };
  const random = gaussian(SEED);
  let previousCorrected: State | undefined;
  for (let i = 0; i < 300; i++) {
    const z = 2 * Math.sin(i / 9) + 0.1 * random();
    previousCorrected = peer.filter({ previousCorrected, observation: [z] });
    predictState(axis, T);
    predictCovariance(p, T, Q);
    updateCovariance(p, variance, k);
    updateState(axis, k, z - axis.position);
    const { mean, covariance } = previousCorrected;
    expect(axis.position).toBeCloseTo(mean[0]?.[0] ?? Number.NaN, 9);
    expect(axis.velocity).toBeCloseTo(mean[1]?.[0] ?? Number.NaN, 9);
    expect(p.p11).toBeCloseTo(covariance[0]?.[0] ?? Number.NaN, 9);
    expect(p.p12).toBeCloseTo(covariance[0]?.[1] ?? Number.NaN, 9);
    expect(p.p22).toBeCloseTo(covariance[1]?.[1] ?? Number.NaN, 9);
  }
});

/** ml-matrix 6 (MIT): the textbook equations with all six states in one matrix, nothing decoupled. */
class SixStates {
  x: Matrix;
  P = Matrix.zeros(6, 6);
  readonly H = new Matrix([
    [1, 0, 0, 0, 0, 0],
    [0, 0, 1, 0, 0, 0],
    [0, 0, 0, 0, 1, 0],
  ]);

  constructor(
    private readonly options: TrackingOptions,
    at: readonly [number, number, number],
    startSpeedSigma: number,
  ) {
    this.x = Matrix.columnVector([at[0], 0, at[1], 0, at[2], 0]);
    for (let i = 0; i < 6; i += 2) {
      this.P.set(i, i, options.noiseM ** 2);
      this.P.set(i + 1, i + 1, startSpeedSigma ** 2);
    }
  }

  predicted(T: number) {
    const F = Matrix.eye(6);
    const Q = Matrix.zeros(6, 6);
    const { accelerationDensityHorizontal: h, accelerationDensityVertical: v } = this.options;
    [h, h, v].forEach((q, axis) => {
      const i = 2 * axis;
      F.set(i, i + 1, T);
      Q.set(i, i, (q * T ** 3) / 3);
      Q.set(i, i + 1, (q * T ** 2) / 2);
      Q.set(i + 1, i, (q * T ** 2) / 2);
      Q.set(i + 1, i + 1, q * T);
    });
    return { x: F.mmul(this.x), P: F.mmul(this.P).mmul(F.transpose()).add(Q) };
  }

  /** @returns the normalised innovation squared */
  step(T: number, z: readonly number[], sigma: number): number {
    const { x, P } = this.predicted(T);
    const { H } = this;
    const S = H.mmul(P)
      .mmul(H.transpose())
      .add(Matrix.eye(3).mul(sigma ** 2));
    const K = P.mmul(H.transpose()).mmul(inverse(S));
    const innovation = Matrix.columnVector([...z]).sub(H.mmul(x));
    this.x = x.add(K.mmul(innovation));
    this.P = Matrix.eye(6).sub(K.mmul(H)).mmul(P);
    return innovation.transpose().mmul(inverse(S)).mmul(innovation).get(0, 0);
  }
}

describe('ml-matrix agrees', () => {
  /** Everything is let through, and nothing freezes: the pure filter. */
  const OPTIONS: TrackingOptions = {
    ...DEFAULT_TRACKING_OPTIONS,
    gate: Number.MAX_VALUE,
    maxPredictionS: 10,
  };
  /** Quality 0 counts as four times the noise; see WORST_QUALITY_FACTOR in track.ts. */
  const sigmaOf = (quality: number) => OPTIONS.noiseM * (4 - 3 * quality);
  const START_SPEED_SIGMA = 1.5;

  const metre = fc.double({ min: -10, max: 10, noNaN: true });
  const report = fc.record({
    intervalS: fc.double({ min: 0, max: 0.5, noNaN: true }),
    at: fc.tuple(metre, metre, metre),
    quality: fc.double({ min: 0, max: 1, noNaN: true }),
    tracker: fc.nat({ max: 1 }),
  });

  test('at any interval and quality, with two trackers in one track', () => {
    fc.assert(
      fc.property(
        fc.tuple(metre, metre, metre),
        fc.array(report, { minLength: 1, maxLength: 20 }),
        (from, reports) => {
          const track = createTrack(OPTIONS, 2);
          observe(track, sighting(0, from));
          const peer = new SixStates(OPTIONS, from, START_SPEED_SIGMA);
          let timeS = 0;
          for (const { intervalS, at, quality, tracker } of reports) {
            if (timeS + intervalS === timeS) continue;
            const T = timeS + intervalS - timeS;
            timeS += intervalS;
            const verdict = observe(track, { ...sighting(timeS, at), quality, tracker });
            expect(verdict).toBe('accepted');
            const normalised = peer.step(T, at, sigmaOf(quality));
            expect(track.last.testRatio * OPTIONS.gate).toBeCloseTo(normalised, 6);
          }
          const estimate = createEstimate();
          for (const ahead of [0, 0.05, 0.3]) {
            expect(predict(track, timeS + ahead, estimate)).toBe(true);
            const { x, P } = peer.predicted(timeS + ahead - timeS);
            expect(estimate.x).toBeCloseTo(x.get(0, 0), 8);
            expect(estimate.vx).toBeCloseTo(x.get(1, 0), 8);
            expect(estimate.y).toBeCloseTo(x.get(2, 0), 8);
            expect(estimate.vy).toBeCloseTo(x.get(3, 0), 8);
            expect(estimate.z).toBeCloseTo(x.get(4, 0), 8);
            expect(estimate.vz).toBeCloseTo(x.get(5, 0), 8);
            expect(estimate.sigmaHorizontalM).toBeCloseTo(Math.sqrt(P.get(0, 0)), 8);
            expect(estimate.sigmaHorizontalM).toBeCloseTo(Math.sqrt(P.get(2, 2)), 8);
            expect(estimate.sigmaVerticalM).toBeCloseTo(Math.sqrt(P.get(4, 4)), 8);
          }
        },
      ),
      { seed: SEED, numRuns: 300 },
    );
  });
});

/**
 * Consistency (Bar-Shalom, Li and Kirubarajan 2001, 5.4, section from memory): over 50 runs the mean normalised estimation
 * error squared of 2 states lies in [1.484, 2.591] with 95 % (chi-square of 100 degrees / 50).
 */
test('the filter is as certain as it should be when the truth follows its model', () => {
  const [T, density, variance, runs, steps] = [0.1, 4, 0.01, 50, 40];
  const random = gaussian(SEED);
  const Q = whiteAcceleration(density, T, { q11: 0, q12: 0, q22: 0 });
  // Cholesky factor of Q, to draw the process noise.
  const l11 = Math.sqrt(Q.q11);
  const l21 = Q.q12 / l11;
  const l22 = Math.sqrt(Q.q22 - l21 * l21);
  const means = new Float64Array(steps);
  for (let run = 0; run < runs; run++) {
    const truth = { position: 0.1 * random(), velocity: 1.5 * random() };
    const axis = { position: 0, velocity: 0 };
    const p = { p11: 0.01, p12: 0, p22: 2.25 };
    const k = { k1: 0, k2: 0 };
    for (let step = 0; step < steps; step++) {
      const [a, b] = [random(), random()];
      truth.position += T * truth.velocity + l11 * a;
      truth.velocity += l21 * a + l22 * b;
      predictState(axis, T);
      predictCovariance(p, T, Q);
      updateCovariance(p, variance, k);
      updateState(axis, k, truth.position + Math.sqrt(variance) * random() - axis.position);
      const [e, f] = [truth.position - axis.position, truth.velocity - axis.velocity];
      const normalised =
        (p.p22 * e * e - 2 * p.p12 * e * f + p.p11 * f * f) / (p.p11 * p.p22 - p.p12 * p.p12);
      means[step] = (means[step] ?? 0) + normalised / runs;
    }
  }
  const within = means.filter(mean => mean >= 1.484 && mean <= 2.591).length;
  // 38 of 40 expected; three more may miss, as neighbouring steps share their errors.
  expect(within).toBeGreaterThanOrEqual(35);
});

/**
 * Chi-square thresholds at 3 degrees of freedom: 95 % 7.8147, 99 % 11.3449, 99.9 % 16.2662
 * (scipy.stats.chi2.ppf, and every printed table).
 */
describe('the gate', () => {
  test('is the 99.9 % point of the chi-square distribution of 3 degrees of freedom', () => {
    expect(DEFAULT_TRACKING_OPTIONS.gate).toBe(16.2662);
  });

  test.each([
    [7.8147, 0.05],
    [11.3449, 0.01],
    [16.2662, 0.001],
  ])('%d turns away a share of %d of good reports', (gate, share) => {
    const random = gaussian(SEED);
    const options = { ...DEFAULT_TRACKING_OPTIONS, gate };
    let [gated, count] = [0, 0];
    for (let run = 0; run < 20_000; run++) {
      const track = createTrack(options, 1);
      observe(track, sighting(0, [0, 0, 0]));
      // The prediction after 0.1 s has the variance that the filter says; so has the next report.
      const estimate = createEstimate();
      predict(track, 0.1, estimate);
      const across = Math.hypot(estimate.sigmaHorizontalM, options.noiseM);
      const up = Math.hypot(estimate.sigmaVerticalM, options.noiseM);
      const at = [across * random(), across * random(), up * random()] as const;
      if (observe(track, sighting(0.1, at)) === 'gated') gated++;
      count++;
    }
    // Four standard deviations of a binomial share.
    const bound = 4 * Math.sqrt((share * (1 - share)) / count);
    expect(Math.abs(gated / count - share)).toBeLessThan(bound);
  });
});
