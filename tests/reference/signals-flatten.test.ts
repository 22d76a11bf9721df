/**
 * Distances of performers, and places along a line, against @flatten-js/core (MIT), a general library of plane geometry.
 */
import Flatten from '@flatten-js/core';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { SignalSource } from '../../src/signals/plan.js';
import type { SignalZone } from '../../src/signals/scene.js';
import type { PlanPoint } from '../../src/stage/area.js';
import { Bench, type Place, Plans } from '../signals/bench.js';

const SEED = 20261202;
/** flatten-js takes points within 1e-6 for equal. */
const DIGITS = 5;

const metre = fc.integer({ min: -1000, max: 1000 }).map(value => value / 100);
const point = fc.tuple(metre, metre);
const flat = ([x, y]: PlanPoint) => new Flatten.Point(x, y);
const place = ([x, y]: PlanPoint): Place => ({ x, y });

/** The one signal of a network, with people where they are. */
function signalAt(
  source: SignalSource,
  people: readonly Place[],
  zones: readonly SignalZone[] = [],
): number {
  const plans = new Plans();
  plans.signal(source);
  const [lo, hi] = new Bench(plans, zones).tick(people).range(0);
  expect(lo).toBe(hi);
  return lo;
}

function between(a: PlanPoint, b: PlanPoint): Flatten.Segment {
  return new Flatten.Segment(flat(a), flat(b));
}

describe('distance', () => {
  test('between the nearest two of two groups', () => {
    fc.assert(
      fc.property(point, point, point, (a, b, c) => {
        const to = { kind: 'performers', performers: [1, 2] } as const;
        const is = signalAt({ kind: 'distance', performers: [0, 1], to }, [a, b, c].map(place));
        const all = [
          [a, b],
          [a, c],
          [b, c],
        ].map(([u, v]) => flat(u as PlanPoint).distanceTo(flat(v as PlanPoint))[0]);
        expect(is).toBeCloseTo(Math.min(...all), DIGITS);
      }),
      { seed: SEED, numRuns: 300 },
    );
  });

  test('to the nearest edge of a zone, 0 inside', () => {
    fc.assert(
      fc.property(point, point, point, point, (a, b, c, at) => {
        const triangle = new Flatten.Polygon([flat(a), flat(b), flat(c)]);
        fc.pre(Math.abs(triangle.area()) > 0.01);
        const area = { shape: { kind: 'polygon', points: [a, b, c] } } as const;
        const zone = { area, edge: { featherM: 0, hysteresisM: 0 }, around: undefined };
        const to = { kind: 'zone', zone: 0 } as const;
        const is = signalAt({ kind: 'distance', performers: [0], to }, [place(at)], [zone]);
        const isInside = triangle.contains(flat(at));
        expect(is).toBeCloseTo(isInside ? 0 : triangle.distanceTo(flat(at))[0], DIGITS);
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  test('to a circle that moves with somebody', () => {
    fc.assert(
      fc.property(point, point, fc.double({ min: 0.1, max: 5, noNaN: true }), (a, b, radiusM) => {
        const area = { shape: { kind: 'circle', centre: { x: 0, y: 0 }, radiusM } } as const;
        const zone = { area, edge: { featherM: 0, hysteresisM: 0 }, around: 1 };
        const to = { kind: 'zone', zone: 0 } as const;
        const is = signalAt(
          { kind: 'distance', performers: [0], to },
          [place(a), place(b)],
          [zone],
        );
        const circle = new Flatten.Circle(flat(b), radiusM);
        expect(is).toBeCloseTo(
          circle.contains(flat(a)) ? 0 : circle.distanceTo(flat(a))[0],
          DIGITS,
        );
      }),
      { seed: SEED, numRuns: 300 },
    );
  });
});

test('along a line of several pieces: the way to its nearest point', () => {
  fc.assert(
    fc.property(fc.array(point, { minLength: 2, maxLength: 6 }), point, (points, at) => {
      const pieces = points
        .slice(1)
        .map((to, i) => [points[i] as PlanPoint, to] as const)
        .filter(([a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]) > 0.01);
      fc.pre(pieces.length === points.length - 1);
      const is = signalAt({ kind: 'along', performer: 0, line: points }, [place(at)]);
      const nearestM = Math.min(...pieces.map(([a, b]) => flat(at).distanceTo(between(a, b))[0]));
      // Of pieces that are as near, each has a way; ours is one of them, and the first.
      let beforeM = 0;
      const ways: number[] = [];
      for (const [a, b] of pieces) {
        const [distanceM, shortest] = flat(at).distanceTo(between(a, b));
        if (distanceM < nearestM + 1e-6) ways.push(beforeM + flat(a).distanceTo(shortest.end)[0]);
        beforeM += between(a, b).length;
      }
      expect(Math.min(...ways.map(way => Math.abs(way - is)))).toBeLessThan(1e-5);
    }),
    { seed: SEED, numRuns: 500 },
  );
});

test('the direction of travel: the angle between two vectors', () => {
  fc.assert(
    fc.property(point, point, ([vx, vy], [x, y]) => {
      fc.pre(Math.hypot(vx, vy) > 0.4 && Math.hypot(x, y) > 0.1);
      const towards = { kind: 'point', x, y } as const;
      const is = signalAt({ kind: 'heading', performer: 0, towards }, [{ x: 0, y: 0, vx, vy }]);
      const turned = new Flatten.Vector(vx, vy).angleTo(new Flatten.Vector(x, y));
      expect(is).toBeCloseTo(Math.min(turned, 2 * Math.PI - turned), DIGITS);
    }),
    { seed: SEED, numRuns: 300 },
  );
});
