/** What a track keeps and forgets when it begins anew, and when other reports than its own are believed. */
import { describe, expect, test } from 'vitest';
import { assessConfidence, createConfidence } from '../../src/tracking/confidence.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS, PLAIN_FIT } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate, type Verdict } from '../../src/tracking/sighting.js';
import { createTrack, SLOT, type Track } from '../../src/tracking/track.js';
import { sighting } from './support.js';

type Place = readonly [number, number, number];
const HOME: Place = [0, 0, 1.6];
const AWAY: Place = [8, 3, 1.6];

/** Reports of one place at a rate, from a time up to but not including another. */
function report(
  track: Track,
  place: Place,
  [fromS, untilS]: readonly [number, number],
  { rateHz = 40, trackers = 1 } = {},
): Verdict[] {
  const verdicts: Verdict[] = [];
  for (let i = Math.round(fromS * rateHz); i < Math.round(untilS * rateHz); i++) {
    for (let k = 0; k < trackers; k++)
      verdicts.push(observe(track, sighting(i / rateHz, place, k)));
  }
  return verdicts;
}

/** Reports of a place until the track begins there; the time of the last. */
function jump(track: Track, place: Place, fromS: number, rateHz = 40, trackers = 1): number {
  for (let i = Math.round(fromS * rateHz); i < (fromS + 5) * rateHz; i++) {
    for (let k = 0; k < trackers; k++) {
      if (observe(track, sighting(i / rateHz, place, k)) === 'reacquired') return i / rateHz;
    }
  }
  throw new Error('never believed');
}

function confidenceAt(track: Track, nowS: number) {
  const [estimate, confidence] = [createEstimate(), createConfidence()];
  predict(track, nowS, estimate);
  assessConfidence(track, estimate, nowS, 0, confidence);
  return { ...confidence, estimate };
}

describe('a track that began anew', () => {
  test('has behind it what has proved the new place: a burst does not carry it away again', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 5]);
    const atS = jump(track, AWAY, 5);
    const burst = report(track, [-6, -6, 1.6], [atS + 1 / 40, atS + 0.4]);
    expect(new Set(burst)).toEqual(new Set(['gated']));
  });

  test('counts how often it did', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 5]);
    expect(track.numbers[SLOT.restarts]).toBe(0);
    const atS = jump(track, AWAY, 5);
    report(track, AWAY, [atS + 1 / 40, 10]);
    jump(track, HOME, 10);
    expect(track.numbers[SLOT.restarts]).toBe(2);
  });

  test('believes the next report from there at once', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 5]);
    const atS = jump(track, AWAY, 5);
    observe(track, sighting(atS + 1 / 40, AWAY));
    expect(track.last.association).toBeGreaterThan(0.98);
  });

  test('is no more insisted against, nor in conflict', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
    report(track, HOME, [0, 5], { trackers: 2 });
    const atS = jump(track, AWAY, 5, 40, 2);
    expect(confidenceAt(track, atS)).toMatchObject({ elsewhere: 1, conflict: 1 });
  });

  test('nor is a height that began anew', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 5]);
    let [nowS, least] = [5, 1];
    for (; confidenceAt(track, nowS).estimate.z < 3; nowS += 1 / 40) {
      observe(track, sighting(nowS, [0, 0, 3.6]));
      least = Math.min(least, confidenceAt(track, nowS).elsewhere);
      expect(nowS).toBeLessThan(6);
    }
    expect(least).toBeLessThan(0.5);
    expect(confidenceAt(track, nowS).elsewhere).toBe(1);
  });

  test('does not know how often reports come: the next must not be late by the old measure', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 10], { rateHz: 1 });
    expect(confidenceAt(track, 9.9).age).toBe(1);
    expect(observe(track, sighting(20, HOME))).toBe('reacquired');
    // 0.25 s to 1 s: of 0.9 s an eighth is left.
    expect(confidenceAt(track, 20.9).age).toBeCloseTo(0.1 / 0.75, 9);
  });

  test('does not know any more where the performer faces', () => {
    const fit = { ...PLAIN_FIT, forwardM: 0.5 };
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1, [fit]);
    for (let i = 0; i < 200; i++) observe(track, sighting(i / 40, [i / 40, 0, 1.6]));
    expect(confidenceAt(track, 5).estimate.x).toBeLessThan(4.7);
    observe(track, sighting(20, [2, 3, 1.6]));
    expect(confidenceAt(track, 20).estimate).toMatchObject({ x: 2, y: 3 });
  });
});

describe('another place', () => {
  test('is not believed from two reports, however far apart in time', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 10], { rateHz: 1 });
    const verdicts = report(track, [60, 0, 1.6], [10, 13], { rateHz: 1 });
    expect(verdicts).toEqual(['gated', 'gated', 'reacquired']);
  });

  test('is believed as soon as it has more behind it than a track that began on an outlier', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    expect(observe(track, sighting(0, [50, 50, 1.6]))).toBe('started');
    expect(report(track, HOME, [1 / 40, 4 / 40])).toEqual(['gated', 'gated', 'reacquired']);
  });

  test('is another one again where nobody could have come in 0.7 s, however long ago the last report was', () => {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    report(track, HOME, [0, 10], { rateHz: 0.5 });
    const verdicts = [1, 2, 3].map(n =>
      observe(track, sighting(8 + 2 * n, [100 + 10 * n, 0, 1.6])),
    );
    expect(verdicts).toEqual(['gated', 'gated', 'gated']);
  });
});
