import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createPresence, leavePresence, stepPresence } from '../../src/mapping/presence.js';

const SEED = 20260119;
const EDGE = { featherM: 0.5, hysteresisM: 0.1 };

describe('the feather', () => {
  test('presence falls from 1 at the edge to 0 at its outer border, coming in', () => {
    const presence = createPresence();
    const seen: number[] = [];
    for (const distance of [0.75, 0.5, 0.375, 0.25, 0.125, 0, -1]) {
      stepPresence(presence, distance, EDGE);
      seen.push(presence.level);
    }
    expect(seen).toEqual([0, 0, 0.25, 0.5, 0.75, 1, 1]);
  });

  test('without one the edge is sharp', () => {
    const presence = createPresence();
    const sharp = { featherM: 0, hysteresisM: 0 };
    expect(stepPresence(presence, 0.001, sharp)).toBe(false);
    expect(stepPresence(presence, 0, sharp)).toBe(true);
    expect(presence.level).toBe(1);
    expect(stepPresence(presence, 0.001, sharp)).toBe(true);
    expect(presence.level).toBe(0);
  });
});

describe('the hysteresis', () => {
  test('going out, everything is that much farther out', () => {
    const presence = createPresence();
    stepPresence(presence, -1, EDGE);
    const levels = [0.1, 0.35, 0.6, 0.61].map(distance => {
      stepPresence(presence, distance, EDGE);
      return presence.level;
    });
    expect(levels[0]).toBe(1);
    expect(levels[1]).toBeCloseTo(0.5, 12);
    expect(levels[2]).toBeCloseTo(0, 12);
    expect(levels[3]).toBe(0);
  });

  test('who stands still gives a constant presence, however the position trembles within it', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1, max: 1, noNaN: true }),
        fc.array(fc.double({ min: -0.049, max: 0.049, noNaN: true }), { minLength: 20 }),
        (standsAt, tremble) => {
          const presence = createPresence();
          // From the first extreme of each side on there is nothing left to move.
          stepPresence(presence, standsAt - 0.049, EDGE);
          stepPresence(presence, standsAt + 0.049, EDGE);
          const { level } = presence;
          for (const noise of tremble) {
            expect(stepPresence(presence, standsAt + noise, EDGE)).toBe(false);
            expect(presence.level).toBe(level);
          }
        },
      ),
      { seed: SEED },
    );
  });

  test('it never makes the presence differ by more than itself', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: -2, max: 2, noNaN: true })), distances => {
        const presence = createPresence();
        const plain = createPresence();
        for (const distance of distances) {
          stepPresence(presence, distance, EDGE);
          stepPresence(plain, distance, { ...EDGE, hysteresisM: 0 });
          expect(presence.level).toBeGreaterThanOrEqual(plain.level);
          expect(presence.level - plain.level).toBeLessThanOrEqual(0.1 / 0.5 + 1e-9);
        }
      }),
      { seed: SEED },
    );
  });
});

describe('going in and out', () => {
  test('is told once each', () => {
    const presence = createPresence();
    const told = [3, 0.4, 0.2, -1, 0.3, 0.7, 3].map(distance =>
      stepPresence(presence, distance, EDGE),
    );
    expect(told).toEqual([false, true, false, false, false, true, false]);
  });

  test('leaving at once is the same as being far away', () => {
    const [left, walked] = [createPresence(), createPresence()];
    for (const presence of [left, walked]) stepPresence(presence, -1, EDGE);
    expect(leavePresence(left)).toBe(true);
    expect(stepPresence(walked, 50, EDGE)).toBe(true);
    expect(leavePresence(left)).toBe(false);
    for (const distance of [0.7, 0.3, 0.1, 0.3, 0.65]) {
      stepPresence(left, distance, EDGE);
      stepPresence(walked, distance, EDGE);
      expect(left.level).toBe(walked.level);
    }
  });

  test('a position that is nowhere is outside', () => {
    const presence = createPresence();
    stepPresence(presence, -1, EDGE);
    stepPresence(presence, Number.POSITIVE_INFINITY, EDGE);
    expect(presence.level).toBe(0);
    stepPresence(presence, -1, EDGE);
    expect(presence.level).toBe(1);
  });
});
