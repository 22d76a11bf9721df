/**
 * The bank against a published implementation: FilterPy's `IMMEstimator` (R. Labbe, MIT; class of its
 * version 1.4, github.com/rlabbe/filterpy), with the switching matrix and the equal start of its documented
 * example and one of two filters without process noise, as there. The series and the other numbers are
 * ours: somebody walks, runs and stops. The figures are what it gave, run with numpy outside of this
 * repository: a state of position and velocity, P = I, R = 1, T = 1, Q = 0 or [[1/3, 1/2], [1/2, 1]].
 */
import { expect, test } from 'vitest';
import { bankLength, createBank } from '../../src/tracking/bank.js';
import { predictBank } from '../../src/tracking/bank-predict.js';
import {
  applyMeasurement,
  assessMeasurement,
  createAssessment,
} from '../../src/tracking/bank-update.js';
import type { Regime } from '../../src/tracking/motion.js';

/** Measured; then probability of the first filter, mixed position and velocity, and their variances. */
const PUBLISHED = [
  [1.2, 0.492830427, 0.8197132171, 0.4689962598, 0.6834942653, 0.9960123569],
  [1.9, 0.4632778661, 1.7193009182, 0.7206649005, 0.7159926949, 0.7032657443],
  [3.1, 0.431009262, 2.8833331715, 0.9418037419, 0.6956127214, 0.5579807839],
  [4.4, 0.3927424372, 4.1762781624, 1.0913676835, 0.6583342845, 0.4833139921],
  [7.9, 0.6060053935, 7.0203179797, 2.0132612669, 0.7927806943, 0.8677877911],
  [11.2, 0.8877211085, 10.703573862, 2.998882928, 0.8499588093, 1.0506653742],
  [14.8, 0.9390006934, 14.5524864418, 3.5091039151, 0.7757392637, 1.0007546393],
  [15.1, 0.8674716142, 15.8321829886, 2.1060328221, 0.7477347181, 0.9523701135],
  [15, 0.9134078398, 15.7428625906, 0.7069695955, 0.7628049848, 1.0312073924],
  [15.2, 0.9272135079, 15.5070770615, 0.1114684612, 0.763353387, 1.0001181039],
] as const;

test("the bank gives what FilterPy's interacting multiple model does", () => {
  // With a long memory tau and sigma^2 = q tau / 2 a regime is the white acceleration of density q.
  const memoryS = 1e7;
  const regimes: readonly Regime[] = [
    {
      name: 'noisy',
      speedMps: Math.sqrt(memoryS / 2),
      speedShare: 0,
      brakingSpm2: 0,
      memoryS,
      share: 0.5,
    },
    { name: 'straight', speedMps: 0, speedShare: 0, brakingSpm2: 0, memoryS, share: 0.5 },
  ];
  // exp(-1 / tau) I + (1 - exp(-1 / tau)) 1 share' = [[0.97, 0.03], [0.03, 0.97]].
  const regimeMemoryS = -1 / Math.log(0.94);
  const bank = createBank(regimes, 1, 1, new Float64Array(bankLength(2, 1, 1)), 0);
  bank.weight.fill(0.5);
  for (const m of [0, 1]) {
    bank.cov[m * 9] = 1;
    bank.cov[m * 9 + 4] = 1;
  }
  const out = createAssessment();
  for (const [measured, ...published] of PUBLISHED) {
    predictBank(bank, 1, regimeMemoryS, { whiteM: 1, biasM: 0, biasMemoryS: 1 });
    const z = Float64Array.of(measured);
    assessMeasurement(bank, 0, z, 1, { outlierPrior: 0, outlierM2: 1 }, out);
    applyMeasurement(bank, 0, z);
    const [w0, w1] = bank.weight as unknown as [number, number];
    const mixed = (at: number) => w0 * (bank.mean[at] ?? 0) + w1 * (bank.mean[3 + at] ?? 0);
    const variance = (at: number) =>
      w0 * ((bank.cov[at * 4] ?? 0) + ((bank.mean[at] ?? 0) - mixed(at)) ** 2) +
      w1 * ((bank.cov[9 + at * 4] ?? 0) + ((bank.mean[3 + at] ?? 0) - mixed(at)) ** 2);
    const ours = [w0, mixed(0), mixed(1), variance(0), variance(1)];
    ours.forEach((value, i) => {
      expect(Math.abs(value - (published[i] as number))).toBeLessThan(2e-6);
    });
    expect(out.association).toBe(1);
  }
});
