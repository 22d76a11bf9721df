/** Process noise against the figures that FilterPy publishes (MIT, github.com/rlabbe/filterpy). */
import { describe, expect, test } from 'vitest';
import {
  type Covariance,
  type ProcessNoise,
  predictCovariance,
  whiteAcceleration,
} from '../../src/rehearsal/assessing/kalman.js';
import { createTransition, transitionOver } from '../../src/tracking/motion.js';

/** Acceleration that is constant over each interval: variance [[T^4/4, T^3/2], [T^3/2, T^2]]. */
function discreteWhite(variance: number, T: number): ProcessNoise {
  return { q11: (variance * T ** 4) / 4, q12: (variance * T ** 3) / 2, q22: variance * T ** 2 };
}

const nothing = (): Covariance => ({ p11: 0, p12: 0, p22: 0 });

/** FilterPy, common/discretization.py, documentation of Q_continuous_white_noise: dt 0.1, density 1. */
test('Q_continuous_white_noise(2, dt=0.1), to the digits printed', () => {
  const { q11, q12, q22 } = whiteAcceleration(1, 0.1, { q11: 0, q12: 0, q22: 0 });
  expect(q11).toBeCloseTo(0.00033333, 8);
  expect(q12).toBeCloseTo(0.005, 12);
  expect(q22).toBeCloseTo(0.1, 12);
});

/** The motion of the track with a velocity that hardly dies out and 2 sigma^2 / tau = 1. */
test('Q_continuous_white_noise(2, dt=0.1) is the limit of the regimes', () => {
  const memoryS = 1e9;
  const regime = {
    name: 'cv',
    memoryS,
    speedMps: Math.sqrt(memoryS / 2),
    speedShare: 0,
    brakingSpm2: 0,
    share: 1,
  };
  const { keep, reach, qpp, qpv, qvv } = transitionOver(regime, 0.1, createTransition());
  expect(keep).toBeCloseTo(1, 9);
  expect(reach).toBeCloseTo(0.1, 9);
  expect(qpp).toBeCloseTo(0.00033333, 8);
  expect(qpv).toBeCloseTo(0.005, 9);
  expect(qvv).toBeCloseTo(0.1, 9);
});

describe('Q_discrete_white_noise', () => {
  /** FilterPy, common/tests/test_discretization.py (dt = 1), and the documentation of the function. */
  test.each([
    [1, 0.25, 0.5, 1],
    [0.1, 0.000025, 0.0005, 0.01],
  ])('dt = %d comes from the same model with the acceleration held', (T, q11, q12, q22) => {
    expect(discreteWhite(1, T).q11).toBeCloseTo(q11, 15);
    expect(discreteWhite(1, T).q12).toBeCloseTo(q12, 15);
    expect(discreteWhite(1, T).q22).toBeCloseTo(q22, 15);
    // From certainty, a time update leaves the process noise.
    const p = nothing();
    predictCovariance(p, T, discreteWhite(1, T));
    expect(p.p11).toBeCloseTo(q11, 15);
    expect(p.p12).toBeCloseTo(q12, 15);
    expect(p.p22).toBeCloseTo(q22, 15);
  });

  /**
   * n short intervals of held acceleration, of variance q n / T each, approach white acceleration of
   * density q; by summing, P11 falls short by q T^3 / (12 n^2), and the other two are equal.
   */
  test.each([1, 10, 100, 1000])('%d short intervals approach white acceleration', n => {
    const [density, T] = [4, 0.7];
    const p = nothing();
    for (let i = 0; i < n; i++)
      predictCovariance(p, T / n, discreteWhite((density * n) / T, T / n));
    const white = whiteAcceleration(density, T, { q11: 0, q12: 0, q22: 0 });
    expect(p.p11).toBeCloseTo(white.q11 - (density * T ** 3) / (12 * n ** 2), 10);
    expect(p.p12).toBeCloseTo(white.q12, 10);
    expect(p.p22).toBeCloseTo(white.q22, 10);
  });
});
