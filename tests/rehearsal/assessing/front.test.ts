import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  type FrontPoint,
  frontErrorAt,
  frontOf,
  rivalAt,
} from '../../../src/rehearsal/assessing/front.js';

const point = (error: number, roughness: number): FrontPoint => ({
  name: `${error}/${roughness}`,
  error,
  roughness,
});
const FRONT = frontOf([
  point(0.9, 10),
  point(0.5, 100),
  point(0.7, 50),
  point(0.95, 40),
  point(0.6, 1000),
]);

test('only those that no other beats in both are left', () => {
  expect(FRONT.map(({ name }) => name)).toEqual(['0.9/10', '0.7/50', '0.5/100']);
  fc.assert(
    fc.property(
      fc.array(
        fc.tuple(
          fc.double({ min: 0.1, max: 2, noNaN: true }),
          fc.double({ min: 1, max: 99, noNaN: true }),
        ),
      ),
      pairs => {
        const all = pairs.map(([error, roughness]) => point(error, roughness));
        const front = frontOf(all);
        for (const one of all) {
          expect(front.some(f => f.error <= one.error && f.roughness <= one.roughness)).toBe(true);
        }
        for (const f of front) {
          expect(all.some(one => one.error < f.error && one.roughness < f.roughness)).toBe(false);
        }
      },
    ),
    { seed: 4 },
  );
});

test('between them it is a straight line over the logarithm', () => {
  expect(frontErrorAt(FRONT, 50)).toBe(0.7);
  expect(frontErrorAt(FRONT, Math.sqrt(50 * 100))).toBeCloseTo(0.6, 12);
  expect(frontErrorAt(FRONT, 5000)).toBe(0.5);
  // Nobody is so steady: whoever was would be off by no less than the steadiest.
  expect(frontErrorAt(FRONT, 9)).toBe(0.9);
});

test('the rival is the closest that is no rougher', () => {
  expect(rivalAt(FRONT, 99)?.name).toBe('0.7/50');
  expect(rivalAt(FRONT, 100)?.name).toBe('0.5/100');
  expect(rivalAt(FRONT, 1)?.name).toBe('0.9/10');
  expect(rivalAt([], 1)).toBeUndefined();
});
