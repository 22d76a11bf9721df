/** The axis functions by themselves: hand-worked steps, and what holds of any covariance. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type Covariance,
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from '../../src/rehearsal/assessing/kalman.js';

const SEED = 20260115;

test('the state runs on by its velocity alone', () => {
  const axis = { position: 2, velocity: -3 };
  predictState(axis, 0.5);
  expect(axis).toEqual({ position: 0.5, velocity: -3 });
});

test('an innovation moves position and velocity by their gains', () => {
  const axis = { position: 1, velocity: 2 };
  updateState(axis, { k1: 0.25, k2: 4 }, 0.5);
  expect(axis).toEqual({ position: 1.125, velocity: 4 });
});

describe('an update', () => {
  test('of equal variances halves the variance', () => {
    const p: Covariance = { p11: 4, p12: 2, p22: 3 };
    const gain = updateCovariance(p, 4, { k1: 0, k2: 0 });
    expect(gain).toEqual({ k1: 0.5, k2: 0.25 });
    // P - P H' H P / S = [[4 - 16/8, 2 - 8/8], [., 3 - 4/8]].
    expect(p).toEqual({ p11: 2, p12: 1, p22: 2.5 });
  });

  test('by noise without end tells nothing', () => {
    const p: Covariance = { p11: 4, p12: 2, p22: 3 };
    updateCovariance(p, 1e300, { k1: 0, k2: 0 });
    expect(p).toEqual({ p11: 4, p12: 2, p22: 3 });
  });

  test('never makes anything less certain, and keeps the covariance positive', () => {
    const variance = fc.double({ min: 1e-6, max: 1e4, noNaN: true });
    fc.assert(
      fc.property(
        variance,
        variance,
        fc.double({ min: -1, max: 1, noNaN: true }),
        fc.double({ min: 1e-12, max: 1e4, noNaN: true }),
        (p11, p22, correlation, noise) => {
          const p: Covariance = { p11, p12: correlation * Math.sqrt(p11 * p22), p22 };
          const { k1 } = updateCovariance(p, noise, { k1: 0, k2: 0 });
          expect(k1).toBeGreaterThan(0);
          expect(k1).toBeLessThanOrEqual(1);
          expect(p.p11).toBeGreaterThan(0);
          // Within the rounding of what went in.
          expect(p.p11).toBeLessThanOrEqual(Math.min(p11, noise) * (1 + 1e-12));
          expect(p.p22).toBeLessThanOrEqual(p22 * (1 + 1e-12));
          expect(p.p22).toBeGreaterThan(-1e-12 * p22);
        },
      ),
      { seed: SEED, numRuns: 2000 },
    );
  });

  test('in either order two reports at one time give the same', () => {
    const variance = fc.double({ min: 1e-3, max: 10, noNaN: true });
    fc.assert(
      fc.property(variance, variance, variance, variance, (p11, p22, first, second) => {
        const p12 = 0.5 * Math.sqrt(p11 * p22);
        const [a, b] = [
          { p11, p12, p22 },
          { p11, p12, p22 },
        ];
        const k = { k1: 0, k2: 0 };
        updateCovariance(a, first, k);
        updateCovariance(a, second, k);
        updateCovariance(b, second, k);
        updateCovariance(b, first, k);
        expect(a.p11).toBeCloseTo(b.p11, 9);
        expect(a.p12).toBeCloseTo(b.p12, 9);
        expect(a.p22).toBeCloseTo(b.p22, 9);
        // Information adds up: 1 / P = 1 / P0 + 1 / R1 + 1 / R2.
        expect(1 / (a.p11 * (1 / p11 + 1 / first + 1 / second))).toBeCloseTo(1, 9);
      }),
      { seed: SEED },
    );
  });
});

test('a time update only adds doubt', () => {
  const positive = fc.double({ min: 0, max: 100, noNaN: true });
  const noise = { q11: 0, q12: 0, q22: 0 };
  fc.assert(
    fc.property(
      positive,
      positive,
      positive,
      fc.double({ min: 0, max: 1e6, noNaN: true }),
      (...p) => {
        const [p11, p22, density, intervalS] = p;
        const after: Covariance = { p11, p12: 0, p22 };
        predictCovariance(after, intervalS, whiteAcceleration(density, intervalS, noise));
        expect(after.p11).toBeGreaterThanOrEqual(p11);
        expect(after.p22).toBeGreaterThanOrEqual(p22);
        expect(after.p12 * after.p12).toBeLessThanOrEqual(after.p11 * after.p22 * (1 + 1e-9));
      },
    ),
    { seed: SEED, numRuns: 1000 },
  );
});
