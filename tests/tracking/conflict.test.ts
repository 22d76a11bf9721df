/** Trackers of one performer that disagree, places that reports insist on, and a height that jumps. */
import { expect, test } from 'vitest';
import { assessConfidence, createConfidence } from '../../src/tracking/confidence.js';
import { conflictM, farthestPair } from '../../src/tracking/conflict.js';
import { freshnessOf } from '../../src/tracking/freeze.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate } from '../../src/tracking/sighting.js';
import { createTrack, TRACKER, type Track } from '../../src/tracking/track.js';
import { gaussian, sighting } from './support.js';

const RATE_HZ = 20;
const random = gaussian(20260202);
const noisy = (x: number, z = 1.6): [number, number, number] => [
  x + 0.03 * random(),
  0.03 * random(),
  z + 0.03 * random(),
];

function confidence(track: Track, nowS: number) {
  const estimate = createEstimate();
  predict(track, nowS, estimate);
  const out = createConfidence();
  assessConfidence(track, estimate, nowS, 0, out);
  return out;
}

/** Places of trackers from a time on, each at 20 Hz. */
function hear(track: Track, places: readonly number[], fromS: number, untilS: number): void {
  for (let t = fromS; t < untilS; t += 1 / RATE_HZ) {
    places.forEach((x, k) => {
      observe(track, sighting(t + 0.005 * k, noisy(x), k));
    });
  }
}

test.each([1.5, 3, 10])('two trackers %d m apart: less than a half within 3 s, and why', apartM => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  hear(track, [0], 0, 5);
  expect(confidence(track, 5).value).toBe(1);
  hear(track, [0, apartM], 5, 8);
  const found = confidence(track, 8);
  expect(found.conflict).toBeLessThanOrEqual(apartM < 2 ? 0.6 : 0.5);
  expect(found.reason).toBe('conflict');
});

test('two worn half a metre apart are no conflict, nor is one that is silent by now', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  hear(track, [0, 0.5], 0, 10);
  expect(confidence(track, 10).conflict).toBe(1);
  hear(track, [0, 3], 10, 14);
  expect(confidence(track, 14).conflict).toBeLessThan(0.5);
  hear(track, [0], 14, 15.5);
  expect(confidence(track, 15.5).conflict).toBe(1);
});

test('a tracker that hangs is not asked', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  hear(track, [0, 3], 0, 20);
  expect(conflictM(track, 20)).toBeGreaterThan(1);
  const hung = noisy(3);
  for (let t = 20; t < 24; t += 1 / RATE_HZ) {
    observe(track, sighting(t, noisy(0), 0));
    observe(track, sighting(t + 0.005, hung, 1));
  }
  expect(freshnessOf(track, 1)).toBeLessThan(1);
  expect(conflictM(track, 24)).toBe(0);
});

test('a burst of one of two, however far off, is none', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  hear(track, [0, 0], 0, 5);
  hear(track, [0, 40], 5, 5.2);
  expect(confidence(track, 5.2).conflict).toBe(1);
});

test('one report after a long silence says no more of how often a tracker is off than one does after a second', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  hear(track, [0, 0], 0, 5);
  hear(track, [0], 5, 35);
  observe(track, sighting(35, [40, 0, 1.6], 1));
  const offShare = track.trackers[TRACKER.count + TRACKER.offShare] as number;
  expect(offShare).toBeCloseTo(1 - Math.exp(-1 / 20), 9);
});

test('of three trackers two that agree are believed', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 3);
  hear(track, [0, 0.2, 5], 0, 10);
  expect(confidence(track, 10).conflict).toBe(1);
});

test('a jump of 6 m is doubted while it is proved: below a half within 0.4 s', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  hear(track, [0], 0, 5);
  const values: number[] = [];
  for (let t = 5; t < 5.4; t += 1 / RATE_HZ) {
    observe(track, sighting(t, noisy(6)));
    values.push(confidence(track, t).value);
  }
  expect(values[0]).toBe(1);
  expect(values.at(-1)).toBeLessThan(0.5);
  expect(confidence(track, 5.4).reason).toBe('elsewhere');
});

test('so is a jump of the height, while place and light go on', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  hear(track, [0], 0, 5);
  for (let t = 5; t < 5.45; t += 1 / RATE_HZ) {
    expect(observe(track, sighting(t, noisy(0, 4.5)))).toBe('accepted');
  }
  expect(confidence(track, 5.45)).toMatchObject({ reason: 'elsewhere' });
  expect(confidence(track, 5.45).value).toBeLessThan(0.5);
  for (let t = 5.45; t < 6; t += 1 / RATE_HZ) observe(track, sighting(t, noisy(0, 4.5)));
  const estimate = createEstimate();
  predict(track, 6, estimate);
  expect(estimate.z).toBeCloseTo(4.5, 1);
  expect(confidence(track, 6).value).toBe(1);
});

test('where reports are often far off and the others good, confidence is no longer full and the region stays', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  for (let i = 0; i < 600; i++) {
    observe(track, sighting(i / RATE_HZ, noisy(i % 5 === 0 ? 3 * Math.sign(random()) : 0)));
  }
  const estimate = createEstimate();
  predict(track, 30, estimate);
  expect(estimate.sigmaAcrossM).toBeLessThan(0.4);
  expect(confidence(track, 30).value).toBeLessThan(1);
  expect(confidence(track, 30).value).toBeGreaterThan(0.4);
});

test('the two that are farthest from each other, of those that are heard and not frozen', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 3);
  expect(farthestPair(track, 0)).toBeUndefined();
  const places = [
    [0, 0],
    [3, 4],
    [0.5, 0],
  ] as const;
  places.forEach(([x, y], k) => {
    observe(track, sighting(1 + k / 100, [x, y, 1.6], k));
  });
  expect(farthestPair(track, 1.1)).toEqual({ first: 0, second: 1, apartM: 5 });
  // The second says nothing more: a second after its last report it is not asked.
  for (const k of [0, 2]) observe(track, sighting(2 + k / 100, [places[k]?.[0] ?? 0, 0, 1.6], k));
  expect(farthestPair(track, 2.005)).toMatchObject({ first: 0, second: 1 });
  expect(farthestPair(track, 2.02)).toEqual({ first: 0, second: 2, apartM: 0.5 });
  // Nor one that has repeated itself for longer than it may.
  track.trackers[2 * TRACKER.count + TRACKER.repeatedSinceS] = 2.02 - 100;
  expect(farthestPair(track, 2.02)).toBeUndefined();
  expect(conflictM(createTrack(DEFAULT_TRACKING_OPTIONS, 1), 2)).toBe(0);
});
