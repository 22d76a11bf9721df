import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import {
  createEstimate,
  createTrack,
  forget,
  observe,
  predict,
  type Track,
  type Verdict,
} from '../../src/tracking/track.js';
import { gaussian, sighting } from './support.js';

const SEED = 20260113;
const OPTIONS = DEFAULT_TRACKING_OPTIONS;

/** Reports at 10 Hz along a line, without noise; the first at 0 s. */
function walk(track: Track, reports: number, speed = 1): number {
  let timeS = 0;
  for (let i = 0; i < reports; i++) {
    timeS = i / 10;
    observe(track, sighting(timeS, [speed * timeS, 0, 1.6]));
  }
  return timeS;
}

function estimateAt(track: Track, atS: number) {
  const estimate = createEstimate();
  expect(predict(track, atS, estimate)).toBe(true);
  return estimate;
}

describe('before and after the first report', () => {
  test('there is no estimate of what was never seen', () => {
    const out = createEstimate();
    expect(predict(createTrack(OPTIONS, 1), 5, out)).toBe(false);
    expect(out).toEqual(createEstimate());
  });

  test('the first report starts the track where it is, at rest', () => {
    const track = createTrack(OPTIONS, 1);
    expect(observe(track, sighting(3, [1, 2, 1.5]))).toBe('started');
    expect(estimateAt(track, 3)).toMatchObject({
      x: 1,
      y: 2,
      z: 1.5,
      vx: 0,
      vy: 0,
      vz: 0,
      ageS: 0,
    });
    expect(estimateAt(track, 3).sigmaHorizontalM).toBeCloseTo(OPTIONS.noiseM, 12);
  });

  test('after forgetting, everything starts anew, even at an earlier time', () => {
    const track = createTrack(OPTIONS, 1);
    walk(track, 20);
    forget(track);
    expect(predict(track, 2, createEstimate())).toBe(false);
    expect(observe(track, sighting(0.5, [9, 9, 1]))).toBe('started');
    expect(estimateAt(track, 0.5)).toMatchObject({ x: 9, y: 9, z: 1, vx: 0 });
  });
});

describe('following', () => {
  test('a walk is followed and predicted', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 40, 1.4);
    const estimate = estimateAt(track, lastS + 0.1);
    expect(estimate.vx).toBeCloseTo(1.4, 2);
    expect(estimate.x).toBeCloseTo(1.4 * (lastS + 0.1), 2);
    expect(estimate.ageS).toBeCloseTo(0.1, 12);
  });

  test('the prediction runs on for maxPredictionS, then stands still while doubt grows', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 40, 1);
    const frozen = estimateAt(track, lastS + OPTIONS.maxPredictionS + 0.001);
    const later = estimateAt(track, lastS + 20);
    expect(frozen.x).toBeCloseTo(lastS + OPTIONS.maxPredictionS, 2);
    expect(later.x).toBe(frozen.x);
    expect(later).toMatchObject({ vx: 0, vy: 0, vz: 0 });
    expect(later.sigmaHorizontalM).toBeGreaterThan(frozen.sigmaHorizontalM);
    expect(later.ageS).toBeCloseTo(20, 9);
  });

  test('asking does not change the track', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 12);
    const before = structuredClone(track);
    estimateAt(track, lastS + 7);
    estimateAt(track, lastS - 7);
    expect(track).toEqual(before);
  });

  test('a time before the state gives the state', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 12);
    const { ageS, ...now } = estimateAt(track, lastS);
    expect(ageS).toBe(0);
    expect(estimateAt(track, lastS - 1)).toMatchObject(now);
  });

  test('two trackers of one performer make the track surer than one', () => {
    const one = createTrack(OPTIONS, 2);
    const both = createTrack(OPTIONS, 2);
    for (let i = 0; i < 30; i++) {
      observe(one, sighting(i / 10, [0, 0, 1]));
      observe(both, sighting(i / 10, [0, 0, 1], 0));
      observe(both, sighting(i / 10, [0, 0, 1], 1));
    }
    expect(estimateAt(both, 3).sigmaHorizontalM).toBeLessThan(estimateAt(one, 3).sigmaHorizontalM);
  });

  test('a report of low quality moves the estimate less', () => {
    const moved = (quality: number) => {
      const track = createTrack(OPTIONS, 1);
      walk(track, 20, 0);
      observe(track, { ...sighting(2, [0.2, 0, 1.6]), quality });
      return estimateAt(track, 2).x;
    };
    const [full, half, none] = [moved(1), moved(0.5), moved(0)];
    expect(half).toBeLessThan(full);
    expect(none).toBeLessThan(half);
    expect(none).toBeGreaterThan(0);
    // Out of range is held to the range; what is no number is worth nothing.
    expect(moved(1e308)).toBe(full);
    expect(moved(-1e308)).toBe(none);
    expect(moved(Number.NaN)).toBe(none);
  });
});

describe('order', () => {
  test('the same time of the same tracker again is a duplicate, whatever it says', () => {
    const track = createTrack(OPTIONS, 2);
    observe(track, sighting(1, [0, 0, 0]));
    expect(observe(track, sighting(1, [0, 0, 0]))).toBe('duplicate');
    expect(observe(track, sighting(1, [5, 0, 0]))).toBe('duplicate');
    expect(track.last.verdict).toBe('duplicate');
    expect(observe(track, sighting(1, [0, 0, 0], 1))).toBe('accepted');
    expect(observe(track, sighting(1, [0, 0, 0], 1))).toBe('duplicate');
  });

  test('what was measured before the state is out of order, and changes nothing', () => {
    const track = createTrack(OPTIONS, 2);
    walk(track, 10);
    const before = structuredClone(track);
    expect(observe(track, sighting(0.35, [0.35, 0, 1.6], 1))).toBe('out-of-order');
    expect(track).toEqual({ ...before, last: { ...before.last, verdict: 'out-of-order' } });
  });
});

describe('the gate', () => {
  test('an outlier is gated: it moves nothing and refreshes nothing', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 1);
    const without = estimateAt(track, lastS + 0.2);
    expect(observe(track, sighting(lastS + 0.1, [lastS + 4, 0, 1.6]))).toBe('gated');
    expect(track.last.testRatio).toBeGreaterThan(1);
    expect(track.last.dx).toBeCloseTo(4, 0);
    expect(track.last.verdict).toBe('gated');
    const after = estimateAt(track, lastS + 0.2);
    for (const key of Object.keys(without) as (keyof typeof without)[]) {
      expect(after[key], key).toBeCloseTo(without[key], 12);
    }
  });

  test('a long run of wild reports does not carry the estimate away', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 1.5);
    const frozen = estimateAt(track, lastS + 10);
    for (let i = 1; i <= 20; i++) {
      const wild = sighting(lastS + i / 20, [i % 2 === 0 ? 400 : -400, 0, 1.6]);
      expect(observe(track, wild)).toBe('gated');
    }
    const after = estimateAt(track, lastS + 10);
    expect(after.x).toBeCloseTo(frozen.x, 9);
    expect(after.ageS).toBeCloseTo(10, 9);
    expect(after.vx).toBe(0);
  });

  test('the test ratio is 1 at the gate', () => {
    const track = createTrack(OPTIONS, 1);
    observe(track, sighting(0, [0, 0, 0]));
    // At interval 0 the innovation variance is twice that of a report.
    const atGate = Math.sqrt(OPTIONS.gate * 2) * OPTIONS.noiseM;
    const verdicts: Verdict[] = [];
    for (const factor of [1.0001, 0.9999]) {
      const other = structuredClone(track);
      verdicts.push(observe(other, { ...sighting(0, [0, factor * atGate, 0]), tracker: 1 }));
      expect(other.last.testRatio).toBeCloseTo(factor ** 2, 9);
    }
    expect(verdicts).toEqual(['gated', 'accepted']);
  });
});

describe('re-acquisition', () => {
  /** Reports at 20 Hz from a new place, until the verdict is other than gated. */
  function untilBelieved(track: Track, fromS: number, place: (timeS: number) => number) {
    for (let i = 1; i <= 40; i++) {
      const timeS = fromS + i / 20;
      const verdict = observe(track, sighting(timeS, [place(timeS), 0, 1.6]));
      if (verdict !== 'gated') return { verdict, reports: i, timeS };
    }
    return undefined;
  }

  test('gated reports that agree for long enough restart the track where they are', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    const found = untilBelieved(track, lastS, () => 30);
    expect(found?.verdict).toBe('reacquired');
    // The first report of the run is at 0.05 s; 0.6 s later is the thirteenth.
    expect(found?.reports).toBe(13);
    expect(estimateAt(track, found?.timeS ?? 0)).toMatchObject({ x: 30, vx: 0, ageS: 0 });
    expect(track.gatedShare).toBe(0);
    expect(observe(track, sighting((found?.timeS ?? 0) + 0.05, [30, 0, 1.6]))).toBe('accepted');
  });

  test('the new place may be moving as a person moves', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    expect(untilBelieved(track, lastS, timeS => 30 + 5 * timeS)?.verdict).toBe('reacquired');
  });

  test('but not as nobody moves', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    expect(untilBelieved(track, lastS, timeS => 200 + 50 * timeS)).toBeUndefined();
  });

  test('a few reports alone are not enough, however far apart', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    const verdicts = [0.3, 0.6, 0.9, 1.2].map(afterS =>
      observe(track, sighting(lastS + afterS, [900, 0, 1.6])),
    );
    expect(verdicts).toEqual(['gated', 'gated', 'gated', 'gated']);
    expect(observe(track, sighting(lastS + 1.5, [900, 0, 1.6]))).toBe('reacquired');
  });

  test('one believed report between them breaks the run', () => {
    const track = createTrack(OPTIONS, 2);
    const lastS = walk(track, 30, 0);
    for (let i = 1; i <= 60; i++) {
      const timeS = lastS + i / 20;
      expect(observe(track, sighting(timeS, [30, 0, 1.6], 0))).toBe('gated');
      expect(observe(track, sighting(timeS, [0, 0, 1.6], 1))).toBe('accepted');
    }
    expect(estimateAt(track, lastS + 3).x).toBeCloseTo(0, 9);
    expect(track.gatedShare).toBeCloseTo(0.5, 1);
  });

  test('after a long silence a report from far away is believed at once', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    expect(observe(track, sighting(lastS + 60, [8, 3, 1.6]))).toBe('accepted');
    expect(estimateAt(track, lastS + 60).x).toBeCloseTo(8, 1);
  });
});

describe('the usual interval', () => {
  test('settles on that of the reports, and a silence is none', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 60, 0);
    expect(track.intervalS).toBeCloseTo(0.1, 9);
    observe(track, sighting(lastS + 3600, [0, 0, 1.6]));
    expect(track.intervalS).toBeLessThan(0.2);
  });
});

describe('properties', () => {
  const anything = fc.double({ noNaN: true, noDefaultInfinity: true });
  const interval = fc.oneof(
    fc.constant(0),
    fc.double({ min: 0, max: 0.2, noNaN: true }),
    fc.double({ min: 0, max: 1e6, noNaN: true }),
    fc.double({ min: 0, max: Number.MAX_VALUE, noNaN: true }),
  );
  const coordinate = fc.oneof(fc.double({ min: -20, max: 20, noNaN: true }), anything);
  const report = fc.record({
    intervalS: interval,
    at: fc.tuple(coordinate, coordinate, coordinate),
    quality: fc.oneof(fc.double({ min: 0, max: 1, noNaN: true }), anything),
    tracker: fc.nat({ max: 2 }),
  });

  /** Paths of all numbers in an object that are not finite, apart from the "never" of lastTimeS. */
  function unfinite(value: unknown, path = ''): string[] {
    if (typeof value === 'number') return Number.isFinite(value) ? [] : [`${path} = ${value}`];
    if (value instanceof Float64Array || typeof value !== 'object' || value === null) return [];
    return Object.entries(value).flatMap(([key, inner]) => unfinite(inner, `${path}.${key}`));
  }

  test('finite for any finite reports and times', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e300, max: 1e300, noNaN: true }),
        fc.array(report, { minLength: 1, maxLength: 30 }),
        fc.array(interval, { minLength: 1, maxLength: 4 }),
        (startS, reports, laters) => {
          const track = createTrack(OPTIONS, 3);
          const estimate = createEstimate();
          let timeS = startS;
          for (const { intervalS, at, quality, tracker } of reports) {
            timeS = Math.min(timeS + intervalS, 1e300);
            observe(track, { ...sighting(timeS, at, tracker), quality });
            expect(unfinite(track)).toEqual([]);
            for (const laterS of laters) {
              predict(track, Math.min(timeS + laterS, 1e300), estimate);
              expect(unfinite(estimate)).toEqual([]);
              expect(estimate.sigmaHorizontalM).toBeGreaterThanOrEqual(0);
              expect(estimate.sigmaVerticalM).toBeGreaterThanOrEqual(0);
            }
          }
        },
      ),
      { seed: SEED, numRuns: 1000 },
    );
  });

  test('covariances stay those of something: positive, and correlated by less than 1', () => {
    fc.assert(
      fc.property(fc.array(report, { minLength: 1, maxLength: 60 }), reports => {
        const track = createTrack(OPTIONS, 3);
        let timeS = 0;
        for (const { intervalS, at, quality, tracker } of reports) {
          timeS = Math.min(timeS + intervalS, 1e300);
          observe(track, { ...sighting(timeS, at, tracker), quality });
          for (const { p11, p12, p22 } of [track.horizontal, track.vertical]) {
            expect(p11).toBeGreaterThan(0);
            expect(p22).toBeGreaterThan(0);
            // Rounding in the last digits aside.
            expect(p12 * p12).toBeLessThanOrEqual(p11 * p22 * (1 + 1e-9));
          }
        }
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  test('where the stage lies in the frame makes no difference', () => {
    const small = fc.double({ min: -20, max: 20, noNaN: true });
    fc.assert(
      fc.property(
        fc.array(fc.tuple(small, small, small), { minLength: 1, maxLength: 30 }),
        fc.integer({ min: -64, max: 64 }),
        (places, shift) => {
          const here = createTrack(OPTIONS, 1);
          const there = createTrack(OPTIONS, 1);
          places.forEach(([x, y, z], i) => {
            observe(here, sighting(i / 10, [x, y, z]));
            observe(there, sighting(i / 10, [x + shift, y - shift, z]));
          });
          expect(there.last.verdict).toBe(here.last.verdict);
          const [a, b] = [estimateAt(here, 3.1), estimateAt(there, 3.1)];
          expect(b.x - shift).toBeCloseTo(a.x, 9);
          expect(b.y + shift).toBeCloseTo(a.y, 9);
        },
      ),
      { seed: SEED },
    );
  });

  test('a still performer in noise is held better than the reports say', () => {
    const random = gaussian(SEED);
    const track = createTrack(OPTIONS, 1);
    let [filtered, raw, count] = [0, 0, 0];
    for (let i = 0; i < 2000; i++) {
      const at = [0.1 * random(), 0.1 * random(), 1.6 + 0.1 * random()] as const;
      observe(track, sighting(i / 10, at));
      if (i < 50) continue;
      const estimate = estimateAt(track, i / 10);
      filtered += estimate.x ** 2 + estimate.y ** 2;
      raw += at[0] ** 2 + at[1] ** 2;
      count++;
    }
    expect(Math.sqrt(filtered / count)).toBeLessThan(0.95 * Math.sqrt(raw / count));
  });
});
