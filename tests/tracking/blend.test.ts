/** The light goes on from where it was, and makes up for what a report corrects. */
import { expect, test } from 'vitest';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate } from '../../src/tracking/sighting.js';
import { createTrack, type Track } from '../../src/tracking/track.js';
import { sighting } from './support.js';

function standing(): Track {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  for (let i = 0; i <= 80; i++) {
    observe(track, sighting(i / 40, [0.001 * Math.sin(i), 0, 1.6]));
  }
  return track;
}

function aimAt(track: Track, nowS: number): number {
  const estimate = createEstimate();
  predict(track, nowS + 0.1, estimate, nowS);
  return estimate.x;
}

test('a report moves the aim little by little to where it puts the estimate', () => {
  const track = standing();
  const before = aimAt(track, 2.025);
  expect(observe(track, sighting(2.025, [0.15, 0, 1.6]))).toBe('accepted');
  const estimate = createEstimate();
  // Asked for as of long after, nothing is left to be made up.
  predict(track, 2.125, estimate, 100);
  const moved = estimate.x - before;
  expect(moved).toBeGreaterThan(0.005);
  // exp(-0.0125 / 0.03) = 0.66 is left at first, and of that 1 / e after each 0.03 s.
  expect((estimate.x - aimAt(track, 2.025)) / moved).toBeCloseTo(0.66, 1);
  predict(track, 2.155, estimate, 100);
  expect((estimate.x - aimAt(track, 2.055)) / moved).toBeCloseTo(0.66 / Math.E, 1);
});

test('a track that begins anew is there at once', () => {
  const track = standing();
  let verdict = '';
  let t = 2;
  while (verdict !== 'reacquired') {
    t += 0.025;
    verdict = observe(track, sighting(t, [5 + 0.001 * Math.sin(40 * t), 0, 1.6]));
  }
  expect(aimAt(track, t)).toBeCloseTo(5, 2);
});
