import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compileArea, type PlanPoint, signedDistanceM } from '../../src/stage/area.js';

const SEED = 20260113;

/** A U open upstage: 3 m wide, 3 m deep, arms and base 1 m thick. */
const U: readonly PlanPoint[] = [
  [0, 0],
  [3, 0],
  [3, 3],
  [2, 3],
  [2, 1],
  [1, 1],
  [1, 3],
  [0, 3],
];

describe('worked by hand', () => {
  const disc = compileArea({ shape: { kind: 'circle', centre: { x: 1, y: 2 }, radiusM: 3 } });
  const drum = compileArea({
    shape: { kind: 'circle', centre: { x: 1, y: 2 }, radiusM: 3 },
    height: { fromM: 0, toM: 2 },
  });
  const horseshoe = compileArea({ shape: { kind: 'polygon', points: U } });
  const reversed = compileArea({ shape: { kind: 'polygon', points: [...U].reverse() } });
  const block = compileArea({
    shape: { kind: 'polygon', points: U },
    height: { fromM: 1, toM: 2 },
  });

  test.each([
    ['centre of a circle', disc, [1, 2, 0], -3],
    ['on its rim', disc, [4, 2, 99], 0],
    ['3-4-5 outside', disc, [1 + 6, 2 + 8, -50], 7],
    ['middle of a drum: the caps are nearer than the wall', drum, [1, 2, 1], -1],
    ['near its wall', drum, [3.5, 2, 1], -0.5],
    ['above it', drum, [1, 2, 2.75], 0.75],
    ['below it', drum, [1, 2, -2], 2],
    ['beside and above: 3-4-5 from its rim', drum, [1 + 6, 2, 6], 5],
    ['in the base of the U', horseshoe, [1.5, 0.75, 0], -0.25],
    ['in its gap, outside', horseshoe, [1.5, 2, 0], 0.5],
    ['in its gap, near the inner corner', horseshoe, [1.3, 1.4, 0], 0.3],
    ['in an arm, level with corners', horseshoe, [0.4, 1, 0], -0.4],
    ['3-4-5 from a corner', horseshoe, [6, 7, 0], 5],
    ['on an edge', horseshoe, [2, 2, 0], 0],
    ['on a corner', horseshoe, [1, 1, 0], 0],
    ['level with the top edge, outside', horseshoe, [-1, 3, 0], 1],
    ['level with the inner base, outside', horseshoe, [-1, 1, 0], 1],
    ['above the gap: to the top of an arm', block, [1.5, 2, 3.2], Math.hypot(0.5, 1.2)],
    ['inside of a block, under its cap', block, [0.5, 1.5, 1.9], -0.1],
  ])('%s', (_, area, [x = 0, y = 0, z = 0], wanted) => {
    expect(signedDistanceM(area, x, y, z)).toBeCloseTo(wanted, 12);
  });

  test('the direction of the points does not matter', () => {
    for (let x = -1; x <= 4; x += 0.13) {
      for (let y = -1; y <= 4; y += 0.13) {
        const one = signedDistanceM(horseshoe, x, y, 0);
        expect(signedDistanceM(reversed, x, y, 0)).toBeCloseTo(one, 12);
      }
    }
  });
});

describe('a value for anything', () => {
  const anyArea = fc
    .record({
      circle: fc.boolean(),
      size: fc.double({ min: 1e-3, max: 100, noNaN: true }),
      height: fc.option(
        fc.record({
          fromM: fc.double({ min: -5, max: 0, noNaN: true }),
          toM: fc.double({ min: 1, max: 5, noNaN: true }),
        }),
        { nil: undefined },
      ),
    })
    .map(({ circle, size, height }) =>
      compileArea({
        shape: circle
          ? { kind: 'circle', centre: { x: 0, y: 0 }, radiusM: size }
          : { kind: 'polygon', points: U.map(([x, y]) => [x * size, y * size]) },
        height,
      }),
    );

  test('never NaN, and not inside for what is not a point', () => {
    fc.assert(
      fc.property(anyArea, fc.double(), fc.double(), fc.double(), (area, x, y, z) => {
        const distance = signedDistanceM(area, x, y, z);
        expect(distance).not.toBeNaN();
        const planIsPoint = Number.isFinite(x) && Number.isFinite(y);
        if (!planIsPoint) expect(distance).toBe(Number.POSITIVE_INFINITY);
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });

  test('no height in the point: endless upright areas still know the plan', () => {
    const area = compileArea({ shape: { kind: 'circle', centre: { x: 0, y: 0 }, radiusM: 1 } });
    expect(signedDistanceM(area, 0, 0, 1e300)).toBe(-1);
    expect(signedDistanceM(area, 0, 0, Number.NaN)).toBe(Number.POSITIVE_INFINITY);
  });

  test('a distance changes no faster than the point moves', () => {
    const small = fc.double({ min: -10, max: 10, noNaN: true });
    fc.assert(
      fc.property(anyArea, small, small, small, small, small, small, (area, x, y, z, u, v, w) => {
        const change = signedDistanceM(area, x, y, z) - signedDistanceM(area, u, v, w);
        expect(Math.abs(change)).toBeLessThanOrEqual(Math.hypot(x - u, y - v, z - w) + 1e-9);
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });
});
