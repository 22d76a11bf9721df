/**
 * Arithmetic of intervals against the test vectors of libieeep1788 (M. Nehmeier, Apache-2.0; in ITF1788,
 * itl/libieeep1788/elem.itl, minimal_add_test and minimal_mul_test) for IEEE 1788-2015, which has the operations of
 * R. E. Moore (1966) with infinite ends; those whose results are no rounded numbers. And that nothing falls out
 * (Moore's fundamental theorem), for ranges at random.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  add,
  createRanges,
  greatest,
  inverse,
  least,
  multiply,
  setRange,
} from '../../src/signals/ranges.js';

const INF = Number.POSITIVE_INFINITY;
type Range = readonly [number, number];
const ENTIRE: Range = [-INF, INF];

const SUMS: readonly (readonly [Range, Range, Range])[] = [
  [ENTIRE, [-INF, 1], ENTIRE],
  [ENTIRE, [-1, 1], ENTIRE],
  [[-1, INF], ENTIRE, ENTIRE],
  [
    [-INF, 2],
    [-INF, 4],
    [-INF, 6],
  ],
  [
    [-INF, 2],
    [3, 4],
    [-INF, 6],
  ],
  [[-INF, 2], [3, INF], ENTIRE],
  [
    [1, 2],
    [-INF, 4],
    [-INF, 6],
  ],
  [
    [1, 2],
    [3, 4],
    [4, 6],
  ],
  [
    [1, 2],
    [3, INF],
    [4, INF],
  ],
  [[1, INF], [-INF, 4], ENTIRE],
  [
    [1, INF],
    [3, 4],
    [4, INF],
  ],
  [
    [1, INF],
    [3, INF],
    [4, INF],
  ],
  [
    [0, 0],
    [-3, 4],
    [-3, 4],
  ],
];

const PRODUCTS: readonly (readonly [Range, Range, Range])[] = [
  [ENTIRE, [0, 0], [0, 0]],
  [ENTIRE, [-5, -1], ENTIRE],
  [ENTIRE, ENTIRE, ENTIRE],
  [
    [1, INF],
    [0, 0],
    [0, 0],
  ],
  [
    [1, INF],
    [-5, -1],
    [-INF, -1],
  ],
  [[1, INF], [-5, 3], ENTIRE],
  [
    [1, INF],
    [1, 3],
    [1, INF],
  ],
  [
    [-1, INF],
    [-5, -1],
    [-INF, 5],
  ],
  [
    [-1, INF],
    [1, 3],
    [-3, INF],
  ],
  [[-1, INF], [-INF, -1], ENTIRE],
  [
    [-INF, 3],
    [-5, -1],
    [-15, INF],
  ],
  [
    [-INF, 3],
    [1, 3],
    [-INF, 9],
  ],
  [
    [-INF, -3],
    [-5, -1],
    [3, INF],
  ],
  [
    [-INF, -3],
    [1, 3],
    [-INF, -3],
  ],
  [
    [0, 0],
    [-5, INF],
    [0, 0],
  ],
  [[0, 0], ENTIRE, [0, 0]],
  [
    [1, 5],
    [-5, -1],
    [-25, -1],
  ],
  [
    [1, 5],
    [-5, 3],
    [-25, 15],
  ],
  [
    [1, 5],
    [1, 3],
    [1, 15],
  ],
  [
    [1, 5],
    [-INF, -1],
    [-INF, -1],
  ],
  [
    [1, 5],
    [-INF, 3],
    [-INF, 15],
  ],
  [
    [1, 5],
    [-5, INF],
    [-25, INF],
  ],
  [
    [-1, 5],
    [-5, -1],
    [-25, 5],
  ],
  [
    [-1, 5],
    [-5, 3],
    [-25, 15],
  ],
  [
    [-10, 2],
    [-5, 3],
    [-30, 50],
  ],
  [
    [-1, 5],
    [-1, 10],
    [-10, 50],
  ],
  [
    [-2, 2],
    [-5, 3],
    [-10, 10],
  ],
  [
    [-1, 5],
    [1, 3],
    [-3, 15],
  ],
  [[-1, 5], [1, INF], ENTIRE],
  [
    [-10, -5],
    [-5, -1],
    [5, 50],
  ],
  [
    [-10, -5],
    [-5, 3],
    [-30, 50],
  ],
  [
    [-10, -5],
    [-INF, -1],
    [5, INF],
  ],
  [
    [-10, -5],
    [-5, INF],
    [-INF, 50],
  ],
];

/** -0 and 0 are the same end. */
const plain = (value: number | undefined) => (value ?? Number.NaN) + 0;

function of(operation: typeof add, a: Range, b: Range): Range {
  const ranges = createRanges(1);
  setRange(ranges, 0, ...a);
  operation(ranges, 0, ...b);
  return [plain(ranges.lo[0]), plain(ranges.hi[0])];
}

describe('the vectors of libieeep1788', () => {
  test.each(SUMS)('%j + %j = %j', (a, b, expected) => {
    expect(of(add, a, b)).toEqual(expected);
    expect(of(add, b, a)).toEqual(expected);
  });

  test.each(PRODUCTS)('%j x %j = %j', (a, b, expected) => {
    expect(of(multiply, a, b)).toEqual(expected);
    expect(of(multiply, b, a)).toEqual(expected);
  });
});

describe('holds all results and no more than it must', () => {
  const number = fc.double({ min: -100, max: 100, noNaN: true });
  const range = fc.tuple(number, number).map(([a, b]): Range => (a < b ? [a, b] : [b, a]));
  const OPERATIONS = [
    [add, (a: number, b: number) => a + b],
    [multiply, (a: number, b: number) => a * b],
    [least, Math.min],
    [greatest, Math.max],
  ] as const;

  test.each(OPERATIONS)('%o', (operation, plainly) => {
    fc.assert(
      fc.property(
        range,
        range,
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.nat(3),
        (a, b, t, end) => {
          const [from, to] = of(operation, a, b);
          const [u, v] = [a[0] + t * (a[1] - a[0]), b[0] + (1 - t) * (b[1] - b[0])];
          const one = plainly(Math.min(u, a[1]), Math.min(v, b[1]));
          expect(one).toBeGreaterThanOrEqual(from - 1e-9);
          expect(one).toBeLessThanOrEqual(to + 1e-9);
          // Each end is the result of some of the ends.
          const ends = [0, 1, 2, 3].map(k => plainly(a[k >> 1] as number, b[k & 1] as number) + 0);
          expect(ends).toContain(end < 2 ? from : to);
        },
      ),
      { seed: 20261201, numRuns: 500 },
    );
  });

  test('1 less a range', () => {
    const ranges = createRanges(1);
    setRange(ranges, 0, 0.25, 1);
    inverse(ranges, 0);
    expect([ranges.lo[0], ranges.hi[0]]).toEqual([0, 0.75]);
  });
});
