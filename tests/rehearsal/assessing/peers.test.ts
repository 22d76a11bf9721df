import { describe, expect, test } from 'vitest';
import { dampedAcceleration, whiteAcceleration } from '../../../src/rehearsal/assessing/kalman.js';
import {
  createPeer,
  createUngatedPeer,
  PEER_SETTINGS,
  peerLabel,
} from '../../../src/rehearsal/assessing/peers.js';
import { sighting } from '../../tracking/support.js';

/**
 * Computed with the authors' package 1eurofilter 1.3.0 (npm, BSD-3-Clause): new OneEuroFilter(40, 1, 0.5, 1)
 * fed with 1.3 sin(0.7 i) + 0.1 i at intervals of 0.02, 0.03, 0.04 s in turn; every sixth value.
 */
const ONE_EURO = [
  0.7863226713529592, 1.9089373445340998, 0.8416869271974036, 2.3989419099295515, 3.761688408876386,
  2.654409938998815, 4.188629146348511, 5.57840187642004, 4.464527275608704, 5.979682136859427,
];

test('the 1-euro filter is that of its authors', () => {
  const options = { minCutoffHz: 1, beta: 0.5, slopeCutoffHz: 1 };
  const filter = createUngatedPeer({ kind: 'oneEuro', ...options });
  let timeS = 1;
  for (let i = 0; i < 60; i++) {
    timeS += 0.02 + 0.01 * (i % 3);
    const value = 1.3 * Math.sin(0.7 * i) + 0.1 * i;
    filter.see(sighting(timeS, [value, -value, 0]));
    if (i % 6 !== 5) continue;
    expect(filter.at(timeS + 0.1)[0]).toBeCloseTo(ONE_EURO[(i - 5) / 6] as number, 10);
    expect(filter.at(timeS + 0.1)[1]).toBeCloseTo(-(ONE_EURO[(i - 5) / 6] as number), 10);
  }
});

test('holding holds', () => {
  const hold = createPeer({ kind: 'hold' });
  hold.see(sighting(1, [2, 3, 0]));
  expect(hold.at(9)).toEqual([2, 3]);
});

test('exponential smoothing is 63 % of the way after its time constant, whatever the interval', () => {
  for (const steps of [1, 2, 20]) {
    const smoother = createUngatedPeer({ kind: 'exponential', timeConstantS: 0.2 });
    smoother.see(sighting(0, [0, 0, 0]));
    for (let i = 1; i <= steps; i++) smoother.see(sighting((0.2 * i) / steps, [1, -1, 0]));
    expect(smoother.at(9)[0]).toBeCloseTo(1 - Math.exp(-1), 12);
    expect(smoother.at(9)[1]).toBeCloseTo(Math.exp(-1) - 1, 12);
  }
});

describe('the speed gate', () => {
  const seen = (reports: readonly (readonly [timeS: number, x: number])[]) => {
    const peer = createPeer({ kind: 'hold' });
    for (const [timeS, x] of reports) peer.see(sighting(timeS, [x, 0, 0]));
    return peer.at(99)[0];
  };

  test('leaves out what would need more than 4 m/s and 0.6 m of slack', () => {
    expect(
      seen([
        [0, 1],
        [0.1, 1.99],
      ]),
    ).toBe(1.99);
    expect(
      seen([
        [0, 1],
        [0.1, 2.01],
      ]),
    ).toBe(1);
    // The time runs from the last that was let through.
    expect(
      seen([
        [0, 1],
        [0.1, 3],
        [0.4, 3.1],
      ]),
    ).toBe(3.1);
  });

  test('believes whatever comes once nothing was let through for 2 s', () => {
    expect(
      seen([
        [0, 1],
        [1.99, 30],
      ]),
    ).toBe(1);
    expect(
      seen([
        [0, 1],
        [1, 30],
        [2.01, 31],
      ]),
    ).toBe(31);
  });
});

describe('damped velocity', () => {
  const walker = (memoryS: number, accelerationDensity = 2) => {
    const peer = createPeer({
      kind: 'dampedVelocity',
      memoryS,
      accelerationDensity,
      noiseM: 0.1,
    });
    for (let i = 0; i < 100; i++) peer.see(sighting(i / 20, [1.4 * (i / 20), -0.7 * (i / 20), 0]));
    return peer;
  };

  // Its filter without damping: tests/reference/filter-equations.test.ts and filter-peers.test.ts (npm kalman-filter).
  test('runs on along a straight walk where it is hardly damped', () => {
    const [x, y] = walker(1e6).at(99 / 20 + 0.5);
    expect(x).toBeCloseTo(1.4 * (99 / 20 + 0.5), 3);
    expect(y).toBeCloseTo(-0.7 * (99 / 20 + 0.5), 3);
  });

  test('comes to rest after its speed times its memory', () => {
    const peer = walker(0.5, 50);
    const [now, later] = [peer.at(99 / 20)[0], peer.at(1e3)[0]];
    // A little slower than the walker, whose velocity it expects to die out.
    expect(later - now).toBeGreaterThan(0.8 * 1.4 * 0.5);
    expect(later - now).toBeLessThanOrEqual(1.4 * 0.5);
    expect(peer.at(99 / 20 + 0.5)[0] - now).toBeCloseTo((1 - Math.exp(-1)) * (later - now), 9);
  });

  /** Against the integrals themselves: Q = ∫ G(s) q G(s)' ds with G(s) = [m (1 - e^(-s/m)), e^(-s/m)]'. */
  test.each([
    [0.04, 1],
    [0.5, 0.3],
    [3, 4],
    [0.001, 2],
  ])(
    'its process noise over %d s with memory %d s is that of the integral',
    (intervalS, memoryS) => {
      const noise = dampedAcceleration(2, memoryS, intervalS, { q11: 0, q12: 0, q22: 0 });
      const n = 20_000;
      const sums = [0, 0, 0] as [number, number, number];
      for (let i = 0; i < n; i++) {
        const s = ((i + 0.5) / n) * intervalS;
        const [reach, keep] = [memoryS * (1 - Math.exp(-s / memoryS)), Math.exp(-s / memoryS)];
        sums[0] += (2 * reach * reach * intervalS) / n;
        sums[1] += (2 * reach * keep * intervalS) / n;
        sums[2] += (2 * keep * keep * intervalS) / n;
      }
      expect(noise.q11 / sums[0]).toBeCloseTo(1, 2);
      expect(noise.q12 / sums[1]).toBeCloseTo(1, 2);
      expect(noise.q22 / sums[2]).toBeCloseTo(1, 2);
    },
  );

  test('and without damping that of white acceleration', () => {
    const empty = () => ({ q11: 0, q12: 0, q22: 0 });
    const [damped, white] = [
      dampedAcceleration(2, 400, 0.5, empty()),
      whiteAcceleration(2, 0.5, empty()),
    ];
    expect(damped.q11).toBeCloseTo(white.q11, 3);
    expect(damped.q22).toBeCloseTo(white.q22, 2);
  });
});

test('every peer has a name of its own', () => {
  expect(new Set(PEER_SETTINGS.map(peerLabel)).size).toBe(PEER_SETTINGS.length);
});
