import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate, type Verdict } from '../../src/tracking/sighting.js';
import { createTrack, forget, SLOT, TRACKER, type Track } from '../../src/tracking/track.js';
import { demand } from '../demand.js';
import { gaussian, sighting } from './support.js';

const SEED = 20260113;
const OPTIONS = DEFAULT_TRACKING_OPTIONS;

/** Reports at 10 Hz along a line, without noise; the first at 0 s. */
function walk(track: Track, reports: number, speed = 1, rateHz = 10): number {
  let timeS = 0;
  for (let i = 0; i < reports; i++) {
    timeS = i / rateHz;
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
    expect(estimateAt(track, 3).sigmaHorizontalM).toBeCloseTo(
      // The report's own scatter and wandering part, and what no filtering shows.
      Math.hypot(OPTIONS.horizontal.whiteM, OPTIONS.horizontal.biasM, OPTIONS.hiddenBiasM),
      12,
    );
  });

  test('so does one that was measured before the clock began', () => {
    const track = createTrack(OPTIONS, 1);
    expect(observe(track, sighting(-0.18, [1, 2, 1.5]))).toBe('started');
    expect(observe(track, sighting(-0.08, [1, 2, 1.5]))).toBe('accepted');
    expect(estimateAt(track, 0)).toMatchObject({ x: 1, y: 2, z: 1.5 });
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
  test('a walk is predicted better than by holding the last report, and better the more reports', () => {
    const holdM = 1.4 * 0.1;
    const missesM = [10, 20, 40].map(rateHz => {
      const track = createTrack(OPTIONS, 1);
      const lastS = walk(track, 4 * rateHz, 1.4, rateHz);
      const estimate = estimateAt(track, lastS + 0.1);
      expect(estimate.vx).toBeGreaterThan(0.7);
      expect(estimate.vx).toBeLessThan(1.4);
      expect(estimate.ageS).toBeCloseTo(0.1, 12);
      return 1.4 * (lastS + 0.1) - estimate.x;
    });
    const [slow, middle, fast] = missesM as [number, number, number];
    expect(slow).toBeLessThan(holdM);
    expect(middle).toBeLessThan(slow);
    expect(fast).toBeLessThan(middle);
    expect(fast).toBeGreaterThan(0);
    expect(fast).toBeLessThan(0.75 * holdM);
  });

  test('the prediction runs on ever more slowly and stands still, while doubt grows', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 40, 1);
    const ahead = [0, 0.5, 1, 1.5, 10, 20].map(s => estimateAt(track, lastS + s));
    const xs = ahead.map(one => one.x);
    for (let i = 2; i < 4; i++) {
      const [before, from, to] = xs.slice(i - 2, i + 1) as [number, number, number];
      expect(to).toBeGreaterThan(from);
      expect(to - from).toBeLessThan(from - before);
    }
    // The longest-lived velocity, a walk's, dies out in 1 / (1 / 4 s + 0.15 s/m² (1 m/s)²) = 2.5 s, the others in
    // half a second: a walk of 1 m/s stops within 2.5 m.
    expect(xs[5]).toBeLessThan(lastS + 2.5);
    expect(xs[5]).toBeCloseTo(xs[4] as number, 0);
    expect(ahead[5]?.vx).toBeLessThan(0.01);
    const sigmas = ahead.map(one => one.sigmaHorizontalM);
    expect(sigmas).toEqual(sigmas.toSorted((a, b) => a - b));
    expect(ahead[5]?.ageS).toBeCloseTo(20, 9);
  });

  test('asking does not change the track', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 12);
    const before = track.memory.slice();
    estimateAt(track, lastS + 7);
    estimateAt(track, lastS - 7);
    expect(track.memory).toEqual(before);
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
    // Out of range is held to the range.
    expect(moved(1e308)).toBe(full);
    expect(moved(-1e308)).toBe(none);
  });
});

describe('order', () => {
  test('a duplicate is what repeats time and place; what only arrives together with another replaces it', () => {
    const track = createTrack(OPTIONS, 2);
    observe(track, sighting(1, [0, 0, 0]));
    expect(observe(track, sighting(1, [0, 0, 0]))).toBe('duplicate');
    expect(track.last.verdict).toBe('duplicate');
    // The newer tells where they are now.
    expect(observe(track, sighting(1, [0.5, 0, 0]))).toBe('started');
    expect(observe(track, sighting(1.0015, [1, 0, 0]))).toBe('started');
    expect(estimateAt(track, 1.0015).x).toBe(1);
    expect(observe(track, sighting(1.001, [5, 0, 0]))).toBe('out-of-order');
    expect(estimateAt(track, 1.0015).x).toBe(1);
    expect(observe(track, sighting(1.01, [1, 0, 0], 1))).toBe('accepted');
    expect(observe(track, sighting(1.01, [1, 0, 0], 1))).toBe('duplicate');
  });

  test('of the same moment, a place that differs along one axis only is no duplicate', () => {
    for (const place of [
      [0.5, 0, 0],
      [0, 0.5, 0],
      [0, 0, 0.5],
    ] as const) {
      const track = createTrack(OPTIONS, 2);
      observe(track, sighting(1, [0, 0, 0]));
      expect(observe(track, sighting(1, place))).toBe('started');
    }
  });

  test('a late report gets the verdict of its place in time', () => {
    const track = createTrack(OPTIONS, 1);
    const newestS = walk(track, 20);
    expect(observe(track, sighting(newestS - 0.05, [newestS + 30, 30, 1.6]))).toBe('gated');
    const late = newestS - 0.15;
    expect(observe(track, sighting(late, [late, 0, 1.6]))).toBe('replayed');
  });

  test('what is older than the history is out of order, and changes nothing', () => {
    const track = createTrack(OPTIONS, 2);
    walk(track, 20);
    const before = track.memory.slice();
    expect(observe(track, sighting(1.35, [1.35, 0, 1.6], 1))).toBe('out-of-order');
    expect(track.memory).toEqual(before);
    expect(track.last.verdict).toBe('out-of-order');
  });

  test('a late report is placed at its own time', () => {
    const track = createTrack(OPTIONS, 2);
    walk(track, 20);
    expect(observe(track, sighting(1.55, [1.55, 0, 1.6], 1))).toBe('replayed');
    expect(track.last.verdict).toBe('replayed');
    expect(track.last.association).toBeGreaterThan(0.5);
  });

  test('the last to arrive is the last heard, wherever it is placed', () => {
    const track = createTrack(OPTIONS, 1);
    walk(track, 20);
    expect(observe(track, { ...sighting(1.85, [1.85, 0, 1.6]), arrivalS: 2.2 })).toBe('replayed');
    expect(track.numbers[SLOT.arrivedS]).toBe(2.2);
  });

  test('however shuffled within the history, the track ends as if in order', () => {
    const random = gaussian(SEED);
    const reports = Array.from({ length: 200 }, (_, i) =>
      sighting(i / 30 + (i % 2) * 0.001, [i / 30 + 0.1 * random(), 0.1 * random(), 1.6], i % 2),
    );
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 0.45, noNaN: true }), {
          minLength: reports.length,
          maxLength: reports.length,
        }),
        delays => {
          const inOrder = createTrack(OPTIONS, 2);
          const shuffled = createTrack(OPTIONS, 2);
          for (const report of reports) observe(inOrder, report);
          const arrivals = reports
            // The first begins the track, and nothing can come before it.
            .map((report, i) => ({ report, atS: i === 0 ? -1 : report.timeS + (delays[i] ?? 0) }))
            .toSorted((a, b) => a.atS - b.atS);
          for (const { report } of arrivals) {
            expect(['started', 'accepted', 'replayed', 'gated']).toContain(
              observe(shuffled, report),
            );
          }
          expect(shuffled.memory).toEqual(inOrder.memory);
        },
      ),
      { seed: SEED, numRuns: 20 },
    );
  });

  test('what no stage and no clock has is invalid, and changes nothing', () => {
    const track = createTrack(OPTIONS, 1);
    walk(track, 20);
    const before = track.memory.slice();
    const good = sighting(2, [2, 0, 1.6]);
    for (const bad of [
      { x: Number.NaN },
      { y: Number.POSITIVE_INFINITY },
      { z: 1e7 },
      { timeS: Number.NaN },
      { timeS: 1e10 },
      { arrivalS: Number.NaN },
      { quality: Number.NaN },
      { tracker: 1 },
      { tracker: -1 },
      { tracker: 0.5 },
    ]) {
      expect(observe(track, { ...good, ...bad })).toBe('invalid');
      expect(track.memory).toEqual(before);
    }
    expect(track.last.verdict).toBe('invalid');
  });

  test('as far as a frame may reach is a place still, and before any clock began a time', () => {
    for (const good of [{ x: 1e6 }, { y: -1e6 }, { z: 1e6 }, { timeS: -1e9, arrivalS: -1e9 }]) {
      const track = createTrack(OPTIONS, 1);
      expect(observe(track, { ...sighting(2, [2, 0, 1.6]), ...good })).toBe('started');
    }
  });
});

describe('the gate', () => {
  test('an outlier is gated: it moves nothing and refreshes nothing', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 1);
    const without = estimateAt(track, lastS + 0.2);
    expect(observe(track, sighting(lastS + 0.1, [lastS + 4, 0, 1.6]))).toBe('gated');
    expect(track.last.association).toBeLessThan(OPTIONS.gateProbability);
    expect(track.last.innovationM).toBeCloseTo(4, 0);
    expect(track.last.nis).toBeCloseTo(track.last.innovationM ** 2 / track.last.varianceM2, 9);
    expect(track.last.verdict).toBe('gated');
    const after = estimateAt(track, lastS + 0.2);
    // Between two reports regimes are mixed, in a prediction their velocities die sooner instead: 3 mm.
    for (const axis of ['x', 'y', 'z'] as const) expect(after[axis]).toBeCloseTo(without[axis], 2);
    expect(after.ageS).toBe(without.ageS);
  });

  test('a long run of wild reports does not carry the estimate away', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 1.5);
    const alone = estimateAt(track, lastS + 10);
    for (let i = 1; i <= 20; i++) {
      const wild = sighting(lastS + i / 20, [i % 2 === 0 ? 400 : -400, 0, 1.6]);
      expect(observe(track, wild)).toBe('gated');
    }
    const after = estimateAt(track, lastS + 10);
    // Regimes mixed 20 times instead of velocities that die sooner are 0.41 m; the reports were 400 m away.
    expect(Math.abs(after.x - alone.x)).toBeLessThan(0.45);
    expect(after.ageS).toBeCloseTo(10, 9);
    expect(after.vx).toBeCloseTo(0, 1);
  });

  test('association falls with the distance, and the gate is where it passes gateProbability', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    let before = 1;
    const verdicts: Verdict[] = [];
    for (let distance = 0; distance < 3; distance += 0.1) {
      const other = structuredClone(track);
      const verdict = observe(other, sighting(lastS + 0.1, [distance, 0, 1.6]));
      expect(other.last.association).toBeLessThanOrEqual(before);
      expect(verdict).toBe(other.last.association < OPTIONS.gateProbability ? 'gated' : 'accepted');
      before = other.last.association;
      verdicts.push(verdict);
    }
    expect(verdicts[0]).toBe('accepted');
    expect(verdicts.at(-1)).toBe('gated');
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
    // The first report of the run is at 0.05 s; 0.7 s later is the fifteenth.
    expect(found?.reports).toBe(15);
    expect(estimateAt(track, found?.timeS ?? 0)).toMatchObject({ x: 30, vx: 0, ageS: 0 });
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
    const verdicts = [0.3, 0.6, 0.9].map(afterS =>
      observe(track, sighting(lastS + afterS, [900, 0, 1.6])),
    );
    expect(verdicts).toEqual(['gated', 'gated', 'gated']);
    expect(observe(track, sighting(lastS + 1.2, [900, 0, 1.6]))).toBe('reacquired');
  });

  test('nothing moves towards the new place before it is believed, and then all at once', () => {
    const random = gaussian(SEED);
    const track = createTrack(OPTIONS, 1);
    const at = (i: number, x: number) =>
      observe(track, sighting(i / 40, [x + 0.05 * random(), 0.05 * random(), 1.6]));
    for (let i = 0; i < 200; i++) at(i, 0);
    let farthest = 0;
    for (let i = 200; i < 300; i++) {
      const verdict = at(i, 3);
      const { x } = estimateAt(track, i / 40 + 0.1);
      if (verdict === 'reacquired') {
        expect(i / 40 - 5).toBeLessThanOrEqual(OPTIONS.reacquireS + 0.05);
        expect(x).toBeGreaterThan(2.8);
        expect(farthest).toBeLessThan(0.2);
        return;
      }
      farthest = Math.max(farthest, x);
    }
    expect.unreachable();
  });

  test('a late report that undoes or causes a restart is told as one', () => {
    const track = createTrack(OPTIONS, 2);
    const lastS = walk(track, 30, 0);
    for (let i = 1; i <= 15; i++) observe(track, sighting(lastS + i / 20, [30, 0, 1.6]));
    expect(track.last.verdict).toBe('reacquired');
    // The other tracker saw the performer at the old place all the time.
    expect(observe(track, sighting(lastS + 0.72, [0, 0, 1.6], 1))).toBe('reacquired');
    expect(estimateAt(track, lastS + 0.75).x).toBeCloseTo(0, 1);
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
    const shares = [0, 1].map(k => track.trackers[k * TRACKER.count + TRACKER.outlierShare]);
    expect(shares[0]).toBeGreaterThan(0.9);
    expect(shares[1]).toBeLessThan(0.2);
  });

  test('after a long silence the next report begins anew, and says so', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 30, 0);
    expect(observe(track, sighting(lastS + 60, [8, 3, 1.6]))).toBe('reacquired');
    expect(estimateAt(track, lastS + 60)).toMatchObject({ x: 8, y: 3, vx: 0 });
  });
});

describe('the usual interval', () => {
  test('settles on that of the reports, and a silence is none', () => {
    const track = createTrack(OPTIONS, 1);
    const lastS = walk(track, 60, 0);
    expect(track.numbers[SLOT.intervalS]).toBeCloseTo(0.1, 9);
    observe(track, sighting(lastS + 2.9, [0, 0, 1.6]));
    expect(track.numbers[SLOT.intervalS]).toBeLessThan(0.2);
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

  /** What is not finite, apart from the "never" of these. */
  const NEVER = [SLOT.candidateSinceS, SLOT.verticalSinceS];
  const NEVER_OF_A_TRACKER = [TRACKER.lastS, TRACKER.beforeS, TRACKER.repeatedSinceS];
  function unfinite(track: Track): string[] {
    const bad: string[] = [];
    track.memory.forEach((value, i) => {
      const inTrackers = i >= SLOT.count && i < SLOT.count + track.trackers.length;
      const slot = inTrackers ? (i - SLOT.count) % TRACKER.count : -1;
      const isNever = NEVER.some(one => one === i) || NEVER_OF_A_TRACKER.some(one => one === slot);
      if (!Number.isFinite(value) && !(isNever && Number.isNaN(value))) bad.push(`${i} = ${value}`);
    });
    return bad;
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
            const bad = unfinite(track);
            demand(bad.length === 0, () => bad.join());
            for (const laterS of laters) {
              predict(track, Math.min(timeS + laterS, 1e300), estimate);
              const { sigmaHorizontalM, sigmaVerticalM } = estimate;
              const isRight =
                Object.values(estimate).every(Number.isFinite) &&
                sigmaHorizontalM >= 0 &&
                sigmaVerticalM >= 0;
              demand(isRight, () => JSON.stringify(estimate));
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
          if (track.numbers[SLOT.started] === 0) continue;
          for (const { cov, states, modes, weight } of [track.floor, track.height]) {
            for (let m = 0; m < modes; m++) {
              demand((weight[m] as number) >= 0, () => `weight ${weight[m]}`);
              const at = (i: number, j: number) =>
                cov[m * states * states + i * states + j] as number;
              for (let i = 0; i < states; i++) {
                demand(at(i, i) > 0, () => `variance ${at(i, i)} at ${i}`);
                for (let j = 0; j < i; j++) {
                  const said = () => `covariance ${at(i, j)} and ${at(j, i)} at ${i}, ${j}`;
                  demand(at(i, j) === at(j, i), said);
                  // Rounding in the last digits aside.
                  demand(at(i, j) ** 2 <= at(i, i) * at(j, j) * (1 + 1e-9), said);
                }
              }
            }
            const whole = weight.reduce((a, b) => a + b);
            demand(Math.abs(whole - 1) < 5e-10, () => `weights add up to ${whole}`);
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
