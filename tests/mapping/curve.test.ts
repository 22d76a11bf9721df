import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compileCurve } from '../../src/mapping/curve.js';
import { CURVES, type CurveOptions } from '../../src/mapping/options.js';

const SEED = 20260118;

describe('named curves', () => {
  // Worked by hand: p, 3p^2 - 2p^3, p^2, square root of p, and a step at a half.
  test.each([
    ['linear', [0, 0.25, 0.5, 0.81, 1], [0, 0.25, 0.5, 0.81, 1]],
    ['smooth', [0, 0.25, 0.5, 0.75, 1], [0, 0.15625, 0.5, 0.84375, 1]],
    ['square', [0, 0.25, 0.5, 0.9, 1], [0, 0.0625, 0.25, 0.81, 1]],
    ['root', [0, 0.25, 0.49, 0.81, 1], [0, 0.5, 0.7, 0.9, 1]],
    ['switch', [0, 0.499, 0.5, 0.75, 1], [0, 0, 1, 1, 1]],
  ] as const)('%s', (name, presences, levels) => {
    const curve = compileCurve(name);
    presences.forEach((presence, i) => {
      expect(curve(presence)).toBeCloseTo(levels[i] ?? Number.NaN, 12);
    });
  });

  test.each(CURVES)('%s begins at 0, ends at 1 and never goes down', name => {
    const curve = compileCurve(name);
    expect([curve(0), curve(1)]).toEqual([0, 1]);
    for (let i = 1; i <= 1000; i++) {
      expect(curve(i / 1000)).toBeGreaterThanOrEqual(curve((i - 1) / 1000));
    }
  });
});

describe('curves through points', () => {
  test('run straight between them, and flat before the first and after the last', () => {
    const curve = compileCurve([
      [0.2, 0.1],
      [0.6, 0.9],
      [0.8, 0.3],
    ]);
    for (const [presence, level] of [
      [0, 0.1],
      [0.2, 0.1],
      [0.4, 0.5],
      [0.6, 0.9],
      [0.7, 0.6],
      [0.8, 0.3],
      [1, 0.3],
    ] as const) {
      expect(curve(presence)).toBeCloseTo(level, 12);
    }
  });

  test('have a step where two are at the same place: up to it the first, behind it the second', () => {
    const curve = compileCurve([
      [0.5, 0.2],
      [0.5, 0.8],
      [0.9, 0.8],
    ]);
    expect([0, 0.5, 0.500001, 1].map(curve)).toEqual([0.2, 0.2, 0.8, 0.8]);
  });
});

test('no curve gives anything but 0..1, whatever it is asked', () => {
  const point = fc.tuple(
    fc.double({ min: 0, max: 1, noNaN: true }),
    fc.double({ min: 0, max: 1, noNaN: true }),
  );
  const curve: fc.Arbitrary<CurveOptions> = fc.oneof(
    fc.constantFrom(...CURVES),
    fc.array(point, { minLength: 2, maxLength: 8 }),
  );
  fc.assert(
    fc.property(
      curve,
      fc.oneof(fc.double(), fc.double({ min: 0, max: 1 })),
      (options, presence) => {
        const level = compileCurve(options)(presence);
        expect(level).toBeGreaterThanOrEqual(0);
        expect(level).toBeLessThanOrEqual(1);
      },
    ),
    { seed: SEED, numRuns: 1000 },
  );
});
