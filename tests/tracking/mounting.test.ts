/** Trackers worn away from the performer's own point: how they are taken back to it, and fused. */
import { describe, expect, test } from 'vitest';
import { observe } from '../../src/tracking/observe.js';
import {
  DEFAULT_TRACKING_OPTIONS,
  PLAIN_FIT,
  type TrackerFit,
} from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate } from '../../src/tracking/sighting.js';
import { createTrack, SLOT, type Track } from '../../src/tracking/track.js';
import { beginAfresh, speaksFor, withTrackers } from '../../src/tracking/trackers.js';
import { gaussian, sighting } from './support.js';

const OPTIONS = DEFAULT_TRACKING_OPTIONS;
const RATE_HZ = 25;

interface Pose {
  readonly x: number;
  readonly y: number;
  /** Radians from x, anticlockwise. */
  readonly heading: number;
}

/** Where a tracker is that is worn so, by the definition of the frame: forward along the heading, left of it. */
function wornAt({ x, y, heading }: Pose, fit: TrackerFit): [number, number, number] {
  const [c, s] = [Math.cos(heading), Math.sin(heading)];
  return [
    x + fit.forwardM * c - fit.leftM * s,
    y + fit.forwardM * s + fit.leftM * c,
    1.2 + fit.upM,
  ];
}

function run(
  track: Track,
  fits: readonly TrackerFit[],
  poseAt: (t: number) => Pose,
  fromS: number,
  untilS: number,
  noiseM = 0,
): void {
  const normal = gaussian(7);
  for (let t = fromS; t < untilS; t += 1 / RATE_HZ) {
    fits.forEach((fit, k) => {
      const [x, y, z] = wornAt(poseAt(t), fit);
      observe(track, sighting(t, [x + noiseM * normal(), y + noiseM * normal(), z], k));
    });
  }
}

const estimateAt = (track: Track, atS: number) => {
  const out = createEstimate();
  predict(track, atS, out);
  return out;
};
const fitOf = (forwardM: number, leftM: number, upM = 0): TrackerFit => ({
  ...PLAIN_FIT,
  forwardM,
  leftM,
  upM,
});
const FRONT = fitOf(0.15, 0, 0.2);
const BACK = fitOf(-0.15, 0, 0.1);
const POLE = fitOf(0, 0.8, 1);
/** Round a circle of 3 m in 12 s: 1.57 m/s, facing along it. */
const circle = (t: number): Pose => {
  const angle = (2 * Math.PI * t) / 12;
  return { x: 3 * Math.cos(angle), y: 3 * Math.sin(angle), heading: angle + Math.PI / 2 };
};

/** RMS distance of the track from the pose, without what the plain filter lags behind. */
function missed(fits: readonly TrackerFit[], given: readonly TrackerFit[], noiseM = 0): number {
  const track = createTrack(OPTIONS, fits.length, given);
  let squares = 0;
  let count = 0;
  for (let t = 0; t < 10; t += 0.2) {
    run(track, fits, circle, t, t + 0.2 - 1e-9, noiseM);
    if (t < 2) continue;
    const { x, y } = estimateAt(track, t + 0.16);
    const pose = circle(t + 0.16);
    squares += (x - pose.x) ** 2 + (y - pose.y) ** 2;
    count++;
  }
  return Math.sqrt(squares / count);
}

describe('a tracker worn aside', () => {
  test('above, is exact from the first report', () => {
    const track = createTrack(OPTIONS, 1, [fitOf(0, 0, 0.5)]);
    observe(track, sighting(0, [1, 2, 2.2]));
    const { x, y, z } = estimateAt(track, 0);
    expect([x, y]).toEqual([1, 2]);
    expect(z).toBeCloseTo(1.7, 12);
  });

  test('of somebody who moves, is taken off along their heading', () => {
    const nothing = missed([PLAIN_FIT], [PLAIN_FIT]);
    // On a pole 0.8 m to the left: unaware of it, the track is 0.8 m off.
    expect(missed([POLE], [PLAIN_FIT])).toBeGreaterThan(0.75);
    // They turn by 30 degrees a second, and the heading is known about half a second late: 0.2 m of 0.8 m,
    // and a tenth of it is never taken off.
    expect(missed([POLE], [POLE])).toBeLessThan(nothing + 0.24);
    expect(missed([FRONT], [FRONT])).toBeLessThan(nothing + 0.03);
  });

  test('of somebody whose heading is unknown, takes nothing off and widens the region', () => {
    const track = createTrack(OPTIONS, 1, [POLE]);
    for (let i = 0; i < 50; i++) observe(track, sighting(i / RATE_HZ, [1, 2, 2]));
    const { x, y, sigmaHorizontalM } = estimateAt(track, 1.96);
    expect(Math.hypot(x - 1, y - 2)).toBeLessThan(0.01);
    // 0.8 m in any direction: 0.8 / sqrt 2 along an axis.
    expect(sigmaHorizontalM).toBeGreaterThan(0.8 / Math.SQRT2);
  });

  test('the heading is forgotten while they stand', () => {
    const track = createTrack(OPTIONS, 1, [POLE]);
    run(track, [POLE], circle, 0, 6);
    const known = Math.hypot(
      track.numbers[SLOT.headingX] as number,
      track.numbers[SLOT.headingY] as number,
    );
    // No radio repeats itself to the last bit.
    run(track, [POLE], () => circle(6), 6, 18, 0.001);
    const forgotten = Math.hypot(
      track.numbers[SLOT.headingX] as number,
      track.numbers[SLOT.headingY] as number,
    );
    expect(known).toBeGreaterThan(0.85);
    expect(known).toBeLessThanOrEqual(1);
    expect(forgotten).toBeLessThan(0.15);
  });
});

test('while the heading is unknown a tracker that is worn aside counts for less than one that is not', () => {
  const track = createTrack(OPTIONS, 2, [PLAIN_FIT, fitOf(1, 0)]);
  for (let i = 0; i < 250; i++) {
    observe(track, sighting(i / RATE_HZ, [0, 0, 1.2], 0));
    observe(track, sighting(i / RATE_HZ, [0.3, 0, 1.2], 1));
  }
  // Alike they would meet half-way, at 0.15 m.
  expect(Math.abs(estimateAt(track, 10).x)).toBeLessThan(0.05);
});

describe('front and back', () => {
  const both = [FRONT, BACK];

  test('together are nearer than either, in noise', () => {
    const fused = missed(both, both, 0.15);
    expect(fused).toBeLessThan(missed([FRONT], [FRONT], 0.15));
    expect(fused).toBeLessThan(missed([BACK], [BACK], 0.15));
  });

  test('losing one is no event: the track stays where it is', () => {
    const track = createTrack(OPTIONS, 2, both);
    run(track, both, circle, 0, 6);
    let before = estimateAt(track, 6);
    // The back one alone goes on.
    for (let t = 6; t < 8; t += 1 / RATE_HZ) {
      const [x, y, z] = wornAt(circle(t), BACK);
      expect(observe(track, sighting(t, [x, y, z], 1))).toBe('accepted');
      const now = estimateAt(track, t);
      const pose = circle(t);
      expect(Math.hypot(now.x - pose.x, now.y - pose.y)).toBeLessThan(0.2);
      // Between two reports nobody moves farther than they walk, with a little to settle.
      expect(Math.hypot(now.x - before.x, now.y - before.y)).toBeLessThan(0.1);
      before = now;
    }
  });

  test('the less noisy one counts for more', () => {
    const fits = [{ ...PLAIN_FIT, noiseShare: 0.2 }, PLAIN_FIT];
    const track = createTrack(OPTIONS, 2, fits);
    for (let i = 0; i < 100; i++) {
      observe(track, sighting(i / RATE_HZ, [0, 0, 1], 0));
      observe(track, sighting(i / RATE_HZ, [0.3, 0, 1], 1));
    }
    expect(estimateAt(track, 4).x).toBeGreaterThan(0);
    expect(estimateAt(track, 4).x).toBeLessThan(0.08);
  });
});

describe('other trackers on the same performer', () => {
  const started = () => {
    const track = createTrack(OPTIONS, 1);
    run(track, [PLAIN_FIT], circle, 0, 3);
    return track;
  };

  test('one more leaves the estimate as it is, and is fused from then on', () => {
    const track = started();
    const wider = withTrackers(track, [PLAIN_FIT, PLAIN_FIT], [0, undefined]);
    expect(estimateAt(wider, 3)).toEqual(estimateAt(track, 3));
    const { x, y } = circle(3);
    expect(observe(wider, sighting(3, [x, y, 1.2], 1))).toBe('accepted');
    expect(speaksFor(wider, 0, 3.2, 1)).toBe(true);
    expect(speaksFor(wider, 1, 3.2, 1)).toBe(true);
    expect(speaksFor(wider, 1, 4.2, 1)).toBe(false);
  });

  test('there and back again is the same track to the last bit', () => {
    const track = started();
    const wider = withTrackers(track, [PLAIN_FIT, PLAIN_FIT], [0, undefined]);
    const again = withTrackers(wider, [PLAIN_FIT], [0]);
    expect(again.memory).toEqual(track.memory);
  });

  test('one new alone, with a fresh beginning asked, begins where it says', () => {
    const track = started();
    beginAfresh(track);
    const other = withTrackers(track, [PLAIN_FIT], [undefined]);
    const before = estimateAt(other, 3);
    expect(before.x).toBe(estimateAt(track, 3).x);
    expect(observe(other, sighting(3, [before.x + 0.2, before.y, 1.2]))).toBe('reacquired');
    expect(estimateAt(other, 3).x).toBe(before.x + 0.2);
    expect(observe(other, sighting(3.04, [before.x + 0.2, before.y, 1.2]))).toBe('accepted');
  });

  test('a report from before the change can not be placed any more', () => {
    const other = withTrackers(started(), [PLAIN_FIT, PLAIN_FIT], [0, undefined]);
    expect(observe(other, sighting(2.5, [0, 0, 1.2], 1))).toBe('out-of-order');
  });
});
