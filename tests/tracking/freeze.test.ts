/** A feed that hangs is told from one that rounds, or whose bearer stands. */
import { describe, expect, test } from 'vitest';
import { assessConfidence, createConfidence } from '../../src/tracking/confidence.js';
import { freshnessOf } from '../../src/tracking/freeze.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate, type Verdict } from '../../src/tracking/sighting.js';
import { createTrack, type Track } from '../../src/tracking/track.js';
import { gaussian, sighting } from './support.js';

const RATE_HZ = 40;
type Path = (timeS: number) => readonly [number, number, number];

/** Reports of one tracker along a path. */
function follow(track: Track, path: Path, fromS: number, untilS: number, tracker = 0): Verdict[] {
  const verdicts: Verdict[] = [];
  for (let i = Math.round(fromS * RATE_HZ); i < Math.round(untilS * RATE_HZ); i++) {
    verdicts.push(observe(track, sighting(i / RATE_HZ, path(i / RATE_HZ), tracker)));
  }
  return verdicts;
}

function confidenceAt(track: Track, nowS: number) {
  const estimate = createEstimate();
  predict(track, nowS, estimate);
  const out = createConfidence();
  assessConfidence(track, estimate, nowS, 0, out);
  return out;
}

/** Radio: 3 cm of noise, to the last bit of a double. */
function radio(path: Path, noiseM = 0.03): Path {
  const random = gaussian(20260201);
  return timeS => {
    const [x, y, z] = path(timeS);
    return [x + noiseM * random(), y + noiseM * random(), z + noiseM * random()];
  };
}

/** Stands for 15 s, then walks at 1.4 m/s, aslant. */
const walk: Path = timeS => {
  const wayM = Math.max(0, timeS - 15) * 1.4;
  return [0.6 * wayM, -0.8 * wayM, 1.6];
};
const rounded =
  (path: Path): Path =>
  timeS => {
    const [x, y, z] = path(timeS);
    return [Math.round(100 * x) / 100, Math.round(100 * y) / 100, Math.round(100 * z) / 100];
  };
/** The same place as at a time, from then on. */
const hungAt = (path: Path, atS: number): Path => {
  const last = path(atS);
  return () => last;
};

describe('radio that hangs', () => {
  test.each([
    ['in the middle of a walk', 18, 0.03],
    ['while its bearer stands', 14, 0.03],
    ['so clean that it stands by itself', 14, 0.002],
  ])('%s is doubted after half a second, and taken for silence after one', (_, atS, noiseM) => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    const path = radio(walk, noiseM);
    follow(track, path, 0, atS);
    const hung = hungAt(path, atS);
    follow(track, hung, atS, atS + 0.5);
    expect(freshnessOf(track, 0)).toBe(1);
    follow(track, hung, atS + 0.5, atS + 0.8);
    const doubted = confidenceAt(track, atS + 0.8);
    expect(doubted.reason).toBe('frozen');
    expect(doubted.frozen).toBeGreaterThan(0.35);
    expect(doubted.frozen).toBeLessThan(0.55);
    expect(follow(track, hung, atS + 0.8, atS + 1.2).at(-1)).toBe('frozen');
    expect(confidenceAt(track, atS + 1.2)).toMatchObject({ value: 0, reason: 'frozen' });
    // A single bit that differs is the end of it, and the place counts again.
    expect(follow(track, path, atS + 1.2, atS + 1.25).at(-1)).not.toBe('frozen');
    expect(freshnessOf(track, 0)).toBe(1);
  });

  test('does not hold back the other tracker of its bearer', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
    const path = radio(walk);
    const other = radio(walk);
    follow(track, path, 0, 18);
    const hung = hungAt(path, 18);
    for (let t = 18; t < 21; t += 1 / RATE_HZ) {
      observe(track, sighting(t, hung(t), 0));
      observe(track, sighting(t + 0.01, other(t + 0.01), 1));
    }
    const estimate = createEstimate();
    predict(track, 21, estimate);
    expect(Math.abs(estimate.x - 0.6 * 6 * 1.4)).toBeLessThan(0.15);
    expect(Math.abs(estimate.y + 0.8 * 6 * 1.4)).toBeLessThan(0.15);
    expect(confidenceAt(track, 21).value).toBeGreaterThan(0.9);
  });
});

describe('an honest feed is not taken for one that hangs', () => {
  test('rounded to a centimetre, its bearer walks, slows down and stands for half a minute', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    // From 1.4 m/s to rest at 3 m/s2.
    const stops: Path = timeS => {
      const brakeS = Math.min(1.4 / 3, Math.max(0, timeS - 10));
      return [1.4 * Math.min(timeS, 10) + 1.4 * brakeS - 1.5 * brakeS ** 2, 0, 1.6];
    };
    follow(track, rounded(stops), 0, 40);
    expect(freshnessOf(track, 0)).toBe(1);
  });

  test('each fix sent several times, in the middle of a walk', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    const path = radio(walk);
    let fix = path(0);
    for (let i = 0; i < 30 * RATE_HZ; i++) {
      if (i % 10 === 0) fix = path(i / RATE_HZ);
      expect(observe(track, sighting(i / RATE_HZ, fix))).not.toBe('frozen');
      expect(freshnessOf(track, 0)).toBe(1);
    }
  });

  test('a test program that never moves, for a minute', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    follow(track, () => [2, 2, 1.6], 0, 60);
    expect(freshnessOf(track, 0)).toBe(1);
    follow(track, () => [2, 2, 1.6], 60, 90);
    expect(freshnessOf(track, 0)).toBeCloseTo(0.5, 1);
  });

  test('but rounded and stopped dead it is doubted at once, and given up after five seconds', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    follow(track, rounded(walk), 0, 18);
    const hung = hungAt(rounded(walk), 18);
    follow(track, hung, 18, 19);
    expect(freshnessOf(track, 0)).toBeLessThan(1);
    follow(track, hung, 19, 23.1);
    expect(freshnessOf(track, 0)).toBe(0);
  });
});

describe('what is a habit', () => {
  const still: Path = () => [0, 0, 1.6];
  /** Radio that was seen to stand for 15 s and not to repeat itself. */
  function known(): { track: Track; path: Path } {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    const path = radio(still, 0.01);
    follow(track, path, 0, 15);
    return { track, path };
  }
  /** Whether the tracker is doubted when it repeats itself for 0.8 s from a time on. */
  function isDoubted(track: Track, path: Path, atS: number): boolean {
    follow(track, hungAt(path, atS), atS, atS + 0.8);
    return freshnessOf(track, 0) < 1;
  }

  test.each([
    [2, true],
    [3, false],
  ])(
    '%d equal reports in a row, and then a small step: doubted at the next run %s',
    (equal, doubted) => {
      const { track, path } = known();
      follow(track, hungAt(path, 15), 15, 15 + equal / RATE_HZ);
      follow(track, path, 15 + equal / RATE_HZ, 16);
      expect(isDoubted(track, path, 16)).toBe(doubted);
    },
  );

  test.each([
    [0.11, true],
    [0.09, false],
  ])(
    'a run of two seconds that ends with a step of %d m: doubted at the next run %s',
    (stepM, doubted) => {
      const { track, path } = known();
      const hung = hungAt(path, 15);
      follow(track, hung, 15, 17);
      const [x, y, z] = hung(17);
      const beside = radio(() => [x + stepM, y, z], 0.002);
      follow(track, () => [x + stepM, y, z], 17, 17 + 1 / RATE_HZ);
      follow(track, beside, 17 + 1 / RATE_HZ, 18);
      expect(isDoubted(track, beside, 18)).toBe(doubted);
    },
  );

  test.each([
    [36, false],
    [46, true],
  ])(
    'of a feed of one report a second no more than a quarter of each counts: after %d doubted %s',
    (reports, doubted) => {
      const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
      const path = radio(still, 0.01);
      for (let i = 0; i < reports; i++) observe(track, sighting(i, path(i)));
      expect(isDoubted(track, path, reports)).toBe(doubted);
    },
  );

  test.each([
    [0.25, true],
    [0.3, false],
  ])(
    'a step of 0.6 m after %d s is a movement: %s, and a repetition doubted the sooner',
    (pauseS, doubted) => {
      const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
      observe(track, sighting(1, [0, 0, 1.6]));
      for (let i = 0; i <= 24; i++) observe(track, sighting(1 + pauseS + i / 30, [0.6, 0, 1.6]));
      expect(freshnessOf(track, 0) < 1).toBe(doubted);
    },
  );
});
