import { expect, test } from 'vitest';
import { createTransition, type Regime, transitionOver } from '../../src/tracking/motion.js';

const REGIME: Regime = {
  ...{ name: 'walk', speedMps: 1, speedShare: 0, memoryS: 1, brakingSpm2: 0, share: 1 },
};

/**
 * 2u - 3 + 4 exp(-u) - exp(-2u), of Uhlenbeck and Ornstein, by the series of the exponential (Abramowitz and Stegun
 * 4.2.1), whose first terms cancel: the sum over n of (-u)^n (4 - 2^n) / n!, from n = 3 on.
 */
function shapeOf(u: number): number {
  let sum = 0;
  let power = -(u ** 3) / 6;
  for (let n = 3; n < 30; n++) {
    sum += power * (4 - 2 ** n);
    power *= -u / (n + 1);
  }
  return sum;
}

test('the variance of the displacement is exact to 1e-7, where it nearly cancels and beyond', () => {
  for (const u of [1e-4, 0.001, 0.01, 0.02, 0.0299, 0.0301, 0.1, 0.5, 1]) {
    const { qpp } = transitionOver(REGIME, u, createTransition());
    expect(Math.abs(qpp / shapeOf(u) - 1), `${u}`).toBeLessThan(1e-7);
  }
});

test('at speed a velocity lasts less long, and its spread is more', () => {
  const regime = { ...REGIME, speedMps: 0.5, speedShare: 0.3, memoryS: 0.8, brakingSpm2: 0.25 };
  // At 2 m/s: 1 / tau = 1 / 0.8 + 0.25 * 4, so tau = 4 / 9 s; sigma^2 = 0.25 + 0.09 * 4 = 0.61 m^2/s^2.
  const [tau, variance, intervalS] = [4 / 9, 0.61, 0.2];
  const { keep, reach, qvv, qpv, qpp } = transitionOver(regime, intervalS, createTransition(), 4);
  expect(keep).toBeCloseTo(Math.exp(-0.45), 12);
  expect(reach).toBeCloseTo(tau * (1 - Math.exp(-0.45)), 12);
  expect(qvv).toBeCloseTo(variance * (1 - Math.exp(-0.9)), 12);
  expect(qpv).toBeCloseTo(variance * tau * (1 - Math.exp(-0.45)) ** 2, 12);
  expect(qpp).toBeCloseTo(variance * tau * tau * shapeOf(0.45), 12);
});
