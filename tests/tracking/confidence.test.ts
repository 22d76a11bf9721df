import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  assessConfidence,
  CONFIDENCE_PARTS,
  type Confidence,
  createConfidence,
  DEFAULT_CONFIDENCE,
} from '../../src/tracking/confidence.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate } from '../../src/tracking/sighting.js';
import { createTrack, SLOT, type Track } from '../../src/tracking/track.js';
import { sighting } from './support.js';

const SEED = 20260113;
const STEPS = 60;

/** No radio repeats itself to the last bit. */
function tremble(i: number): number {
  return 0.001 * Math.sin(i);
}

function followed(speed = 0, rateHz = 10, latencyS = 0): { track: Track; lastS: number } {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  let arrivalS = 0;
  for (let i = 0; i < STEPS; i++) {
    arrivalS = i / rateHz;
    const timeS = arrivalS - latencyS;
    observe(track, { ...sighting(timeS, [speed * timeS + tremble(i), 0, 1.6]), arrivalS });
  }
  return { track, lastS: arrivalS };
}

function assessed(track: Track, nowS: number, outsideM = 0): Confidence {
  const estimate = createEstimate();
  predict(track, nowS, estimate);
  const out = createConfidence();
  expect(assessConfidence(track, estimate, nowS, outsideM, out)).toBe(out.value);
  return out;
}

test('a performer tracked well is believed in full', () => {
  const { track, lastS } = followed(1.4);
  expect(assessed(track, lastS + 0.05)).toEqual({
    value: 1,
    reason: undefined,
    age: 1,
    frozen: 1,
    gate: 1,
    elsewhere: 1,
    conflict: 1,
    bounds: 1,
    speed: 1,
    quality: 1,
    spread: 1,
  });
});

test('nobody who was never seen is believed', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  expect(assessed(track, 0)).toMatchObject({ value: 0, age: 0, reason: 'age' });
});

describe('age', () => {
  const { ageGoodS, ageLostS } = DEFAULT_CONFIDENCE;

  test('falls from 1 to 0 between the declared lateness', () => {
    const { track, lastS } = followed();
    const dueS = lastS + (track.numbers[SLOT.intervalS] as number);
    expect(assessed(track, dueS + ageGoodS - 1e-9).age).toBe(1);
    expect(assessed(track, dueS + (ageGoodS + ageLostS) / 2).age).toBeCloseTo(0.5, 9);
    expect(assessed(track, dueS + ageLostS).age).toBeCloseTo(0, 12);
    expect(assessed(track, dueS + 1e9)).toMatchObject({ value: 0, age: 0 });
  });

  test('a slow tracker is not late while it keeps its own time', () => {
    const { track, lastS } = followed(0, 2);
    expect(assessed(track, lastS + 0.5).age).toBe(1);
  });

  test('nor is one that is steady but measures long before it reports', () => {
    const { track, lastS } = followed(0, 10, 0.4);
    expect(assessed(track, lastS + 0.1).age).toBe(1);
  });

  test('gated reports do not make it younger', () => {
    const { track, lastS } = followed();
    for (let i = 1; i <= 20; i++) {
      observe(track, sighting(lastS + i / 10, [i % 2 === 0 ? 300 : -300, 0, 1.6]));
    }
    expect(assessed(track, lastS + 2).age).toBe(0);
  });
});

test('spread falls between the declared standard deviations', () => {
  const { track, lastS } = followed();
  const { spreadGoodM, spreadLostM } = DEFAULT_CONFIDENCE;
  const at = (sigmaHorizontalM: number) => {
    const out = createConfidence();
    assessConfidence(track, { ...createEstimate(), sigmaHorizontalM }, lastS, 0, out);
    return out.spread;
  };
  expect(at(spreadGoodM)).toBe(1);
  expect(at((spreadGoodM + spreadLostM) / 2)).toBeCloseTo(0.5, 12);
  expect(at(spreadLostM)).toBe(0);
});

test('quality is what the sensor says', () => {
  const { track, lastS } = followed();
  observe(track, { ...sighting(lastS + 0.1, [0, 0, 1.6]), quality: 0.2 });
  expect(assessed(track, lastS + 0.1).quality).toBeCloseTo(0.2, 12);
});

test('gate falls as most reports are turned away, and rises again', () => {
  const { track, lastS } = followed();
  const shares: number[] = [];
  let timeS = lastS;
  for (let i = 1; i <= 20; i++) {
    timeS = lastS + i / 10;
    observe(track, sighting(timeS, [i % 2 === 0 ? 300 : -300, 0, 1.6]));
    shares.push(assessed(track, timeS).gate);
  }
  // Two wrong reports in a row at 10 Hz do no harm: 1 - exp(-0.2 / 0.5) = 0.33 of the running share.
  expect(shares.slice(0, 2)).toEqual([1, 1]);
  expect(shares[5]).toBeLessThan(0.5);
  expect(shares[19]).toBeLessThan(0.01);
  for (let i = 1; i <= 20; i++) observe(track, sighting(timeS + i / 10, [tremble(i), 0, 1.6]));
  // What it has been like lately goes on to count for a while.
  expect(assessed(track, timeS + 2).gate).toBeGreaterThan(0.95);
});

describe('frozen', () => {
  const frozenGoodS = DEFAULT_TRACKING_OPTIONS.frozenS;
  const frozenLostS = 2 * frozenGoodS;

  function repeating(forS: number): { track: Track; lastS: number } {
    const { track, lastS } = followed();
    let timeS = lastS;
    for (let i = 1; i <= forS * 10; i++) {
      timeS = lastS + i / 10;
      observe(track, sighting(timeS, [0.002, 0, 1.6]));
    }
    return { track, lastS: timeS };
  }

  test('a feed that repeats itself to the last bit is doubted, and then not believed', () => {
    const at = (forS: number) => {
      // The first of them is none that repeats.
      const { track, lastS } = repeating(forS + 0.1);
      return assessed(track, lastS);
    };
    expect(at(frozenGoodS - 0.2)).toMatchObject({ frozen: 1, value: 1 });
    const half = at((frozenGoodS + frozenLostS) / 2);
    expect(half.frozen).toBeCloseTo(0.5, 6);
    expect(half.reason).toBe('frozen');
    expect(at(frozenLostS)).toMatchObject({ value: 0 });
  });

  test('the first bit that differs ends it', () => {
    const { track, lastS } = repeating(frozenLostS);
    observe(track, sighting(lastS + 0.1, [0.002 + Number.EPSILON, 0, 1.6]));
    expect(assessed(track, lastS + 0.1).frozen).toBe(1);
  });
});

test('of several trackers the best speaks: losing one is no event', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  let timeS = 0;
  for (let i = 0; i < 400; i++) {
    timeS = i / 10;
    observe(track, { ...sighting(timeS, [0, 0, 1.6], 0), quality: 0.1 });
    observe(track, sighting(timeS, [tremble(i), 0, 1.6], 1));
  }
  expect(assessed(track, timeS)).toMatchObject({ value: 1, frozen: 1, quality: 1 });
});

test('bounds fall with the distance outside of the stage', () => {
  const { track, lastS } = followed();
  expect(assessed(track, lastS, 0).bounds).toBe(1);
  expect(assessed(track, lastS, 1).bounds).toBeCloseTo(0.5, 12);
  expect(assessed(track, lastS, 2).bounds).toBe(0);
});

/** Peak of sprinters: 9.46 +- 0.19 m/s (di Prampero et al. 2005); fast walking 2.53 (Bohannon 1997). */
test('speed: walkers are believed, sprinters doubted, nobody is faster', () => {
  const { track, lastS } = followed();
  const at = (vx: number) => {
    const out = createConfidence();
    assessConfidence(track, { ...createEstimate(), vx }, lastS, 0, out);
    return out.speed;
  };
  expect(at(2.53)).toBe(1);
  expect(at(9.46)).toBeGreaterThan(0);
  expect(at(9.46)).toBeLessThan(0.5);
  expect(at(9.46 + 6 * 0.19)).toBe(0);
});

test('always 0..1 and the least of its parts, whatever the figures', () => {
  const { track } = followed();
  fc.assert(
    fc.property(
      fc.double(),
      fc.double(),
      fc.double(),
      fc.double(),
      fc.double(),
      (nowS, outsideM, sigmaHorizontalM, vx, vz) => {
        const out = createConfidence();
        const estimate = { ...createEstimate(), sigmaHorizontalM, vx, vz };
        const value = assessConfidence(track, estimate, nowS, outsideM, out);
        const parts = CONFIDENCE_PARTS.map(part => out[part]);
        for (const part of [value, ...parts]) {
          expect(part).toBeGreaterThanOrEqual(0);
          expect(part).toBeLessThanOrEqual(1);
        }
        expect(value).toBe(Math.min(...parts));
        if (out.reason !== undefined) expect(out[out.reason]).toBe(value);
        else expect(value).toBe(1);
      },
    ),
    { seed: SEED, numRuns: 1000 },
  );
});

test('of two trackers one hangs and the other dies: nobody speaks any more, in half a second', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  const at = (timeS: number): [number, number, number] => [Math.sin(timeS), Math.cos(timeS), 1.6];
  let timeS = 0;
  const report = (tracker: number, place: [number, number, number]) =>
    observe(track, sighting(timeS, place, tracker));
  for (; timeS < 5; timeS += 0.1) {
    report(0, at(timeS));
    report(1, at(timeS));
  }
  const stuck = at(timeS);
  for (; timeS < 8; timeS += 0.1) {
    report(1, stuck);
    report(0, at(timeS));
  }
  expect(assessed(track, timeS)).toMatchObject({ frozen: 1, value: 1 });
  for (let i = 0; i < 6; i++, timeS += 0.1) report(1, stuck);
  expect(assessed(track, timeS)).toMatchObject({ frozen: 0, value: 0, reason: 'frozen' });
});
