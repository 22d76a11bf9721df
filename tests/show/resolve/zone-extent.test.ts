import flatten from '@flatten-js/core';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { extentAlong } from '../../../src/show/resolve/zone-extent.js';
import type { PlanPoint } from '../../../src/stage/area.js';

/** The box that @flatten-js/core finds round a shape once it is turned so that the direction is x. */
function boxOf(shape: flatten.Polygon | flatten.Circle, degrees: number): readonly number[] {
  const turned = shape.rotate((-degrees * Math.PI) / 180, new flatten.Point(0, 0));
  return [turned.box.xmin, turned.box.xmax];
}

const metres = fc.integer({ min: -2000, max: 2000 }).map(value => value / 100);
const degrees = fc.integer({ min: -720, max: 720 });

test('a polygon reaches as far along any direction as a geometry library says', () => {
  fc.assert(
    fc.property(
      fc.array(fc.tuple(metres, metres), { minLength: 3, maxLength: 9 }),
      degrees,
      (points, angle) => {
        const { fromM, toM } = extentAlong({ shape: { kind: 'polygon', points } }, angle);
        const box = boxOf(
          new flatten.Polygon(points.map(([x, y]: PlanPoint) => new flatten.Point(x, y))),
          angle,
        );
        expect(fromM).toBeCloseTo(box[0] as number, 6);
        expect(toM).toBeCloseTo(box[1] as number, 6);
      },
    ),
    { seed: 20261130 },
  );
});

test('and a circle', () => {
  fc.assert(
    fc.property(metres, metres, fc.integer({ min: 1, max: 900 }), degrees, (x, y, cm, angle) => {
      const radiusM = cm / 100;
      const shape = { kind: 'circle', centre: { x, y }, radiusM } as const;
      const { fromM, toM, directionX, directionY } = extentAlong({ shape }, angle);
      const box = boxOf(new flatten.Circle(new flatten.Point(x, y), radiusM), angle);
      expect(fromM).toBeCloseTo(box[0] as number, 6);
      expect(toM).toBeCloseTo(box[1] as number, 6);
      expect(Math.hypot(directionX, directionY)).toBeCloseTo(1, 12);
    }),
    { seed: 20261130 },
  );
});
