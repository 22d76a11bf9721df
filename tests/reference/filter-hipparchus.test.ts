/**
 * The two-state filter against test data of Hipparchus (hipparchus-filtering, Apache-2.0,
 * github.com/Hipparchus-Math/hipparchus), whose authors computed it apart from their library.
 */
import { inverse, Matrix } from 'ml-matrix';
import { expect, test } from 'vitest';
import {
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from '../../src/rehearsal/assessing/kalman.js';
import { bankLength, createBank } from '../../src/tracking/bank.js';
import { predictBank } from '../../src/tracking/bank-predict.js';
import {
  applyMeasurement,
  assessMeasurement,
  createAssessment,
} from '../../src/tracking/bank-update.js';

/** z, x, v, P11, P12, P22 after each 0.1 s. */
type Row = readonly [number, number, number, number, number, number];

/**
 * constant-acceleration-with-outlier.txt, all of it: control acceleration 0.1,
 * Q = 0.04 [[T^4/4, T^3/2], [T^3/2, T^2]], R = 100, x0 = 0, every entry of P0 is 1. The report of 1e10 is
 * turned away there, so that only the time update is left.
 */
const WITH_OUTLIER: readonly Row[] = [
  [
    5.034086319289255, 0.06067828692568, 0.064708483037606, 1.195535014370764, 1.086868875734919,
    0.9884442249931407,
  ],
  [
    -3.337061355932284, 0.019886672320027, 0.034904032462201, 1.402834779444512, 1.169099419135149,
    0.9749818238909922,
  ],
  [
    -8.801578273003292, -0.1190721806704, -0.065070117956703, 1.619738025866476, 1.246101714590042,
    0.959598480241099,
  ],
  [
    -8.861162782213471, -0.286165267351454, -0.170153578598288, 1.843916364015026, 1.31733470106268,
    0.9423187741002188,
  ],
  [
    -10.121538280908347, -0.506218436063695, -0.295882143005337, 2.072927605120294,
    1.382325410617369, 0.9232060541331263,
  ],
  [
    2.229170160657378, -0.471605461158183, -0.246054722741182, 2.304276489210423, 1.44068563372891,
    0.9023607526946897,
  ],
  [
    -1.175970441402168, -0.512958772415475, -0.246205044917225, 2.535479295930319,
    1.492124998933963, 0.8799171887356181,
  ],
  [
    1e10, -0.537079276907198, -0.236205044917225, 2.842704467604468, 1.580136717807525,
    0.880317188735618,
  ],
  [
    1.320145039358675, -0.502467861919172, -0.19580042725265, 3.0702836438525, 1.616970319961028,
    0.853743076833463,
  ],
  [
    2.296944111193132, -0.428811797228904, -0.139398122831747, 3.290273908687114, 1.646352168470273,
    0.8261161598709689,
  ],
];

test('constant acceleration with an outlier', () => {
  const T = 0.1;
  const control = 0.1;
  const noise = { q11: (0.04 * T ** 4) / 4, q12: (0.04 * T ** 3) / 2, q22: 0.04 * T ** 2 };
  const p = { p11: 1, p12: 1, p22: 1 };
  const axis = { position: 0, velocity: 0 };
  const k = { k1: 0, k2: 0 };
  const turnedAway: number[] = [];
  for (const [z, x, v, p11, p12, p22] of WITH_OUTLIER) {
    predictState(axis, T);
    // The control input B u with B = [T^2/2, T]'.
    axis.position += (T * T * control) / 2;
    axis.velocity += T * control;
    predictCovariance(p, T, noise);
    const innovation = z - axis.position;
    // Chi-square, 1 degree of freedom, 99.9 % (scipy.stats.chi2.ppf).
    if (innovation ** 2 / (p.p11 + 100) > 10.8276) turnedAway.push(z);
    else {
      updateCovariance(p, 100, k);
      updateState(axis, k, innovation);
    }
    expect(axis.position).toBeCloseTo(x, 12);
    expect(axis.velocity).toBeCloseTo(v, 12);
    expect(p.p11).toBeCloseTo(p11, 12);
    expect(p.p12).toBeCloseTo(p12, 12);
    expect(p.p22).toBeCloseTo(p22, 12);
  }
  expect(turnedAway).toEqual([1e10]);
});

/** cv-smoother.txt: the positions reported at 0.1 s, 0.2 s and so on up to 5 s. */
const SMOOTHER_REPORTS: readonly number[] = [
  -2.032076968355701e-2, -1.24193516820445e-1, -1.42531433351416e-1, -2.206229235511278e-1,
  -2.303906624105031e-1, -2.791746998560944e-1, -2.494325649639199e-1, -2.403764784009768e-1,
  -2.081314057666177e-1, -2.516884547136989e-1, -2.814237545185562e-1, -2.08564455036077e-1,
  -9.434530233824528e-2, -1.154714187690636e-1, 6.713382221192325e-3, 4.018147046869015e-2,
  1.322824266655266e-1, 5.130051742704585e-2, 1.340873565865071e-1, 1.342487237887001e-1,
  2.913163003904679e-1, 2.527061423998311e-1, 2.949631469754074e-1, 2.390405415850932e-1,
  2.878056729546783e-1, 3.278458695655671e-1, 3.959187916573009e-1, 3.680060174930665e-1,
  4.17787043560659e-1, 3.478601292749908e-1, 4.173443003051385e-1, 4.184886347635603e-1,
  4.266740840129666e-1, 5.208965640702689e-1, 5.278916989302039e-1, 5.393084759332742e-1,
  5.162026842194548e-1, 6.136309837143201e-1, 5.912180902991363e-1, 5.701658925005475e-1,
  5.865278608735913e-1, 5.903970102716515e-1, 5.600784103708247e-1, 6.291170726303892e-1,
  6.370224844162914e-1, 6.456754898406187e-1, 6.547806459969696e-1, 7.003474140639033e-1,
  6.782969887605592e-1, 7.840857950363618e-1,
];

/** And x, v, P11, P12, P22 there after smoothing; at 5 s that is what the filter itself says. */
const SMOOTHED = new Map<number, readonly number[]>([
  [
    0,
    [
      -7.096404929709274e-3, -5.093015760271737e-1, 1.020194351702268e-3, -3.762444151976679e-3,
      2.585762530947999e-2,
    ],
  ],
  [
    1,
    [
      -5.803333834293148e-2, -5.093188188217752e-1, 4.851987843536107e-4, -1.716013024910073e-3,
      1.793645221241844e-2,
    ],
  ],
  [
    10,
    [
      -2.39880473472073e-1, 1.756412000055907e-1, 1.988985321513083e-4, -9.121787278520109e-7,
      6.301503622099837e-3,
    ],
  ],
  [
    25,
    [
      3.101554221687956e-1, 2.137089071075817e-1, 1.987796675249513e-4, -5.413615736249433e-12,
      6.292509533833326e-3,
    ],
  ],
  [
    40,
    [
      5.820204468774572e-1, 4.497940572689767e-2, 1.988090838265976e-4, 1.965486645019027e-7,
      6.296198585837855e-3,
    ],
  ],
  [
    49,
    [
      7.182083425004627e-1, 2.928975525678104e-1, 2.870660837972756e-4, 6.795973608497456e-4,
      1.282756102998595e-2,
    ],
  ],
  [
    50,
    [
      7.486783460565701e-1, 3.106012770577062e-1, 5.485276270971649e-4, 2.124787925659488e-3,
      2.081564119756215e-2,
    ],
  ],
]);

/**
 * cv-smoother.txt and SmootherTest.java: continuous white noise acceleration of density 0.1, R = 1e-3, x0 = (0, -0.5), P0 = diag(0.01, 0.25). The file holds the
 * series after the backward pass, so the test goes back too (Rauch, Tung and Striebel 1965:
 * C = P F' / P+, x = x + C (xs - x+), P = P + C (Ps - P+) C'); it can agree only if every forward step did.
 */
test('constant velocity with white acceleration', () => {
  const T = 0.1;
  const F = new Matrix([
    [1, T],
    [0, 1],
  ]);
  const noise = whiteAcceleration(0.1, T, { q11: 0, q12: 0, q22: 0 });
  const axis = { position: 0, velocity: -0.5 };
  const p = { p11: 0.01, p12: 0, p22: 0.25 };
  const k = { k1: 0, k2: 0 };
  const now = () => ({
    x: Matrix.columnVector([axis.position, axis.velocity]),
    P: new Matrix([
      [p.p11, p.p12],
      [p.p12, p.p22],
    ]),
  });
  const filtered = [now()];
  const predicted = [now()];
  for (const z of SMOOTHER_REPORTS) {
    predictState(axis, T);
    predictCovariance(p, T, noise);
    predicted.push(now());
    updateCovariance(p, 1e-3, k);
    updateState(axis, k, z - axis.position);
    filtered.push(now());
  }
  expect(filtered.length).toBe(51);

  let smoothed = now();
  let compared = 0;
  for (let i = 50; i >= 0; i--) {
    const [here, next] = [filtered[i], predicted[i + 1]];
    if (here !== undefined && next !== undefined) {
      const C = here.P.mmul(F.transpose()).mmul(inverse(next.P));
      smoothed = {
        x: Matrix.add(here.x, C.mmul(Matrix.sub(smoothed.x, next.x))),
        P: Matrix.add(here.P, C.mmul(Matrix.sub(smoothed.P, next.P)).mmul(C.transpose())),
      };
    }
    const expected = SMOOTHED.get(i);
    if (expected === undefined) continue;
    const { x, P } = smoothed;
    const found = [x.get(0, 0), x.get(1, 0), P.get(0, 0), P.get(0, 1), P.get(1, 1)];
    found.forEach((value, column) => {
      expect(value, `row ${i}, column ${column}`).toBeCloseTo(expected[column] ?? Number.NaN, 12);
    });
    compared++;
  }
  expect(compared).toBe(SMOOTHED.size);
});

/**
 * The same series through the bank of the track: one regime whose velocity hardly dies out, with
 * 2 sigma^2 / tau = 0.1 and neither bias nor outliers. The last row is that of the filter itself. What is
 * left of the decay after 5 s is 5 s / tau = 5e-9.
 */
test('constant velocity with white acceleration, by the bank in the limit', () => {
  const [T, density, variance, memoryS] = [0.1, 0.1, 1e-3, 1e9];
  const regime = {
    name: 'cv',
    memoryS,
    speedMps: Math.sqrt((density * memoryS) / 2),
    speedShare: 0,
    brakingSpm2: 0,
    share: 1,
  };
  const noise = { whiteM: Math.sqrt(variance), biasM: 0, biasMemoryS: 1 };
  const bank = createBank([regime], 1, 1, new Float64Array(bankLength(1, 1, 1)), 0);
  bank.weight[0] = 1;
  // Position, velocity and the bias of the tracker, which stays 0.
  bank.mean.set([0, -0.5, 0]);
  bank.cov.set([0.01, 0, 0, 0, 0.25, 0, 0, 0, 0]);
  const assessment = createAssessment();
  const z = new Float64Array(1);
  for (const report of SMOOTHER_REPORTS) {
    z[0] = report;
    predictBank(bank, T, 1, noise);
    assessMeasurement(bank, 0, z, variance, { outlierPrior: 0, outlierM2: 1 }, assessment);
    applyMeasurement(bank, 0, z);
  }
  const { mean, cov } = bank;
  const found = [mean[0], mean[1], cov[0], cov[1], cov[4]];
  const expected = SMOOTHED.get(50);
  expect(expected).toHaveLength(found.length);
  found.forEach((value, column) => {
    expect(value, `column ${column}`).toBeCloseTo(expected?.[column] ?? Number.NaN, 8);
  });
});
