import { describe, expect, test } from 'vitest';
import { constantVelocity, createPeer, oneEuro } from '../../src/rehearsal/peers.js';
import { sighting } from '../tracking/support.js';

/**
 * Computed with the authors' package 1eurofilter 1.3.0 (npm, BSD-3-Clause): new OneEuroFilter(40, 1, 0.5, 1)
 * fed with 1.3 sin(0.7 i) + 0.1 i at intervals of 0.02, 0.03, 0.04 s in turn; every sixth value.
 */
const ONE_EURO = [
  0.7863226713529592, 1.9089373445340998, 0.8416869271974036, 2.3989419099295515, 3.761688408876386,
  2.654409938998815, 4.188629146348511, 5.57840187642004, 4.464527275608704, 5.979682136859427,
];

test('the 1-euro filter is that of its authors', () => {
  const filter = oneEuro({ minCutoffHz: 1, beta: 0.5, slopeCutoffHz: 1 });
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
  const hold = createPeer('hold');
  hold.see(sighting(1, [2, 3, 0]));
  expect(hold.at(9)).toEqual([2, 3]);
});

test('exponential smoothing is 63 % of the way after its time constant, whatever the interval', () => {
  for (const steps of [1, 2, 20]) {
    const smoother = createPeer('exponential');
    smoother.see(sighting(0, [0, 0, 0]));
    for (let i = 1; i <= steps; i++) smoother.see(sighting((0.2 * i) / steps, [1, -1, 0]));
    expect(smoother.at(9)[0]).toBeCloseTo(1 - Math.exp(-1), 12);
    expect(smoother.at(9)[1]).toBeCloseTo(Math.exp(-1) - 1, 12);
  }
});

describe('constant velocity', () => {
  // The filter itself: tests/reference/filter-equations.test.ts and filter-peers.test.ts (npm kalman-filter).
  test('runs on along a straight walk', () => {
    const peer = constantVelocity({ accelerationDensity: 2, noiseM: 0.1 });
    for (let i = 0; i < 100; i++) peer.see(sighting(i / 20, [1.4 * (i / 20), -0.7 * (i / 20), 0]));
    const [x, y] = peer.at(99 / 20 + 0.5);
    expect(x).toBeCloseTo(1.4 * (99 / 20 + 0.5), 3);
    expect(y).toBeCloseTo(-0.7 * (99 / 20 + 0.5), 3);
  });
});
