import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  assessConfidence,
  type Confidence,
  createConfidence,
  DEFAULT_CONFIDENCE,
} from '../../src/tracking/confidence.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import {
  createEstimate,
  createTrack,
  observe,
  predict,
  type Track,
} from '../../src/tracking/track.js';
import { sighting } from './support.js';

const SEED = 20260113;
const STEPS = 60;

function followed(speed = 0, rateHz = 10, latencyS = 0): { track: Track; lastS: number } {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  let arrivalS = 0;
  for (let i = 0; i < STEPS; i++) {
    arrivalS = i / rateHz;
    const timeS = arrivalS - latencyS;
    observe(track, { ...sighting(timeS, [speed * timeS, 0, 1.6]), arrivalS });
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
    age: 1,
    spread: 1,
    quality: 1,
    gate: 1,
    bounds: 1,
    speed: 1,
  });
});

test('nobody who was never seen is believed', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  expect(assessed(track, 0)).toMatchObject({ value: 0, age: 0 });
});

describe('age', () => {
  const { ageGoodS, ageLostS } = DEFAULT_CONFIDENCE;

  test('falls from 1 to 0 between the declared lateness', () => {
    const { track, lastS } = followed();
    const dueS = lastS + track.intervalS;
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

test('quality follows the sensor slowly', () => {
  const { track, lastS } = followed();
  observe(track, { ...sighting(lastS + 0.1, [0, 0, 1.6]), quality: 0 });
  expect(assessed(track, lastS + 0.1).quality).toBeCloseTo(0.9, 12);
  for (let i = 2; i <= 60; i++) {
    observe(track, { ...sighting(lastS + i / 10, [0, 0, 1.6]), quality: 0.2 });
  }
  expect(assessed(track, lastS + 6).quality).toBeCloseTo(0.2, 2);
});

test('gate falls as most reports are turned away', () => {
  const { track, lastS } = followed();
  const shares: number[] = [];
  for (let i = 1; i <= 8; i++) {
    observe(track, sighting(lastS + i / 10, [i % 2 === 0 ? 300 : -300, 0, 1.6]));
    shares.push(assessed(track, lastS + i / 10).gate);
  }
  // Three of ten may be wrong without harm: the running share passes 0.3 with the fourth.
  expect(shares.slice(0, 3)).toEqual([1, 1, 1]);
  expect(shares[3]).toBeLessThan(1);
  expect(shares[7]).toBeLessThan(0.65);
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

test('always 0..1 and the product of its parts, whatever the figures', () => {
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
        const parts = [out.age, out.spread, out.quality, out.gate, out.bounds, out.speed];
        for (const part of [value, ...parts]) {
          expect(part).toBeGreaterThanOrEqual(0);
          expect(part).toBeLessThanOrEqual(1);
        }
        expect(value).toBeCloseTo(
          parts.reduce((product, part) => product * part, 1),
          12,
        );
      },
    ),
    { seed: SEED, numRuns: 1000 },
  );
});
