/** The two-state filter against published series and steady states. */
import { describe, expect, test } from 'vitest';
import {
  type AxisState,
  type Covariance,
  type Gain,
  type ProcessNoise,
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from '../../src/rehearsal/assessing/kalman.js';

const gain = (): Gain => ({ k1: 0, k2: 0 });

function settled(noise: ProcessNoise, intervalS: number, variance: number): Gain {
  const p: Covariance = { p11: 1, p12: 0, p22: 1 };
  const k = gain();
  for (let i = 0; i < 2000; i++) {
    predictCovariance(p, intervalS, noise);
    updateCovariance(p, variance, k);
  }
  return k;
}

/**
 * Welch and Bishop, An Introduction to the Kalman Filter, UNC TR 95-041, section "Estimating a random
 * constant": Q = 1e-5, P0 = 1. The paper shows curves; the figures are its equations computed in double
 * precision. A constant is our filter with the velocity known to be 0.
 */
describe('Welch and Bishop, a constant', () => {
  function series(variance: number) {
    const p: Covariance = { p11: 1, p12: 0, p22: 0 };
    const k = gain();
    const values: { k1: number; p11: number }[] = [];
    for (let i = 0; i < 500; i++) {
      predictCovariance(p, 1, { q11: 1e-5, q12: 0, q22: 0 });
      updateCovariance(p, variance, k);
      values.push({ k1: k.k1, p11: p.p11 });
    }
    return (step: number) => values[step - 1] ?? { k1: Number.NaN, p11: Number.NaN };
  }

  test('R = 0.01', () => {
    const at = series(0.01);
    expect(at(1).k1).toBeCloseTo(0.99009911, 8);
    expect(at(1).p11).toBeCloseTo(0.0099009911, 10);
    expect(at(2).p11).toBeCloseTo(0.0049776483, 10);
    expect(at(10).p11).toBeCloseTo(0.001027316, 10);
    expect(at(50).p11).toBeCloseTo(3.3921e-4, 8);
    expect(at(500).k1).toBeCloseTo(0.0311267, 7);
    expect(at(500).p11).toBeCloseTo(3.11267e-4, 9);
  });

  test('R = 1 and R = 0.0001', () => {
    expect(series(1)(50).p11).toBeCloseTo(0.01977258, 8);
    expect(series(1e-4)(50).p11).toBeCloseTo(2.70156e-5, 10);
  });
});

/**
 * Hipparchus (Apache-2.0), test data constant-acceleration.txt: T = 0.1, control acceleration 0.1,
 * Q = 0.04 [[T^4/4, T^3/2], [T^3/2, T^2]], R = 100, x0 = 0, every entry of P0 is 1.
 */
test('Hipparchus, constant acceleration', () => {
  const T = 0.1;
  const control = 0.1;
  const noise = { q11: (0.04 * T ** 4) / 4, q12: (0.04 * T ** 3) / 2, q22: 0.04 * T ** 2 };
  const p: Covariance = { p11: 1, p12: 1, p22: 1 };
  const axis: AxisState = { position: 0, velocity: 0 };
  const k = gain();
  const covariances: Covariance[] = [];
  for (const { z, x, v } of [
    { z: 5.034086319289255, x: 0.06067828692568, v: 0.064708483037606 },
    { z: -3.337061355932284, x: 0.019886672320027, v: 0.034904032462201 },
    { z: -8.801578273003292, x: -0.1190721806704, v: -0.065070117956703 },
  ]) {
    predictState(axis, T);
    // The control input B u with B = [T^2/2, T]'.
    axis.position += (T * T * control) / 2;
    axis.velocity += T * control;
    predictCovariance(p, T, noise);
    updateCovariance(p, 100, k);
    updateState(axis, k, z - axis.position);
    expect(axis.position).toBeCloseTo(x, 12);
    expect(axis.velocity).toBeCloseTo(v, 12);
    covariances.push({ ...p });
  }
  // After the first step.
  expect(covariances[0]?.p11).toBeCloseTo(1.195535014370764, 12);
  expect(covariances[0]?.p12).toBeCloseTo(1.086868875734919, 12);
  expect(covariances[0]?.p22).toBeCloseTo(0.9884442249931407, 12);
});

describe('continuous white noise acceleration', () => {
  /** Bar-Shalom, Li and Kirubarajan 2001, 6.2.2 (section from memory): Q = q [[T^3/3, T^2/2], [T^2/2, T]]. */
  test.each([
    [1, 1, 1 / 3, 1 / 2, 1],
    [2, 3, 18, 9, 6],
    [4, 0.1, 4e-3 / 3, 0.02, 0.4],
    [5, 0, 0, 0, 0],
  ])('q = %d, T = %d', (density, T, q11, q12, q22) => {
    const noise = whiteAcceleration(density, T, { q11: 0, q12: 0, q22: 0 });
    expect(noise.q11).toBeCloseTo(q11, 12);
    expect(noise.q12).toBeCloseTo(q12, 12);
    expect(noise.q22).toBeCloseTo(q22, 12);
  });

  test('two short intervals make one long one', () => {
    const noise = { q11: 0, q12: 0, q22: 0 };
    const once: Covariance = { p11: 2, p12: 0.3, p22: 1 };
    const twice = { ...once };
    predictCovariance(once, 0.7, whiteAcceleration(3, 0.7, noise));
    predictCovariance(twice, 0.5, whiteAcceleration(3, 0.5, noise));
    predictCovariance(twice, 0.2, whiteAcceleration(3, 0.2, noise));
    expect(twice.p11).toBeCloseTo(once.p11, 12);
    expect(twice.p12).toBeCloseTo(once.p12, 12);
    expect(twice.p22).toBeCloseTo(once.p22, 12);
  });

  /** No published figures found: the Riccati recursion iterated to rest, computed apart from this code. */
  test.each([
    [1, 1, 1, 0.756738, 0.493216],
    [1, 0.1, 0.01, 0.548528, 2.124788],
  ])('steady gains, q = %d, T = %d, R = %d', (density, T, variance, k1, k2) => {
    const noise = whiteAcceleration(density, T, { q11: 0, q12: 0, q22: 0 });
    const k = settled(noise, T, variance);
    expect(k.k1).toBeCloseTo(k1, 6);
    expect(k.k2).toBeCloseTo(k2, 6);
  });
});

/**
 * Kalata, The tracking index, IEEE Trans. AES-20, 1984 (formula from memory): with acceleration that is
 * constant over each interval, L = sigma_w T^2 / sigma_v, r = (4 + L - sqrt(8 L + L^2)) / 4,
 * alpha = 1 - r^2, beta = 2 (2 - alpha) - 4 sqrt(1 - alpha). L = 0.1 and 1 come out exactly.
 */
describe('alpha-beta filter of Kalata', () => {
  test.each([
    [0.1, 0.36, 0.08],
    [1, 0.75, 0.5],
    [2, 0.854102, 0.763932],
    [10, 0.978714, 1.45898],
  ])('tracking index %d', (index, alpha, beta) => {
    for (const T of [0.025, 0.1, 1]) {
      const sigmaV = 0.3;
      const sigmaW = (index * sigmaV) / T ** 2;
      const noise = {
        q11: (sigmaW ** 2 * T ** 4) / 4,
        q12: (sigmaW ** 2 * T ** 3) / 2,
        q22: sigmaW ** 2 * T ** 2,
      };
      const k = settled(noise, T, sigmaV ** 2);
      expect(k.k1).toBeCloseTo(alpha, 6);
      expect(k.k2 * T).toBeCloseTo(beta, 6);
    }
  });
});
