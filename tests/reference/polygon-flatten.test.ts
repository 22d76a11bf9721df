/**
 * Signed distance against @flatten-js/core (MIT), a general library of plane geometry, for random
 * simple polygons, and against sampling of the surface, which shares no formula with either.
 */
import Flatten from '@flatten-js/core';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type AreaOptions,
  compileArea,
  type PlanPoint,
  signedDistanceM,
} from '../../src/stage/area.js';
import { polygonArea, selfCrossing } from '../../src/stage/polygon.js';
import { demand } from '../demand.js';

const SEED = 20260113;
/** flatten-js takes points within its tolerance DP_TOL = 1e-6 for equal. */
const NEAR_M = 1e-5;

const metre = fc.double({ min: -10, max: 10, noNaN: true });
const anywhere = fc.tuple(metre, metre);
/**
 * Corners to the centimetre, as people write them: a corner then either lies on an edge or at least
 * 0.01 m x 0.01 m / 28 m = 3.5 micrometres beside it, which both tolerances tell apart.
 */
const centimetre = fc.integer({ min: -1000, max: 1000 }).map(value => value / 100);
const corner = fc.tuple(centimetre, centimetre);

const segment = (a: PlanPoint, b: PlanPoint) =>
  new Flatten.Segment(new Flatten.Point(...a), new Flatten.Point(...b));

/** Random points made into a simple, mostly non-convex polygon: turns round the path between crossings. */
function untangled(points: readonly PlanPoint[]): PlanPoint[] {
  let path = [...points];
  for (let shorter: PlanPoint[] | undefined = path; shorter !== undefined; ) {
    path = shorter;
    shorter = withoutOneCrossing(path);
  }
  return path;
}

/** Turning round the path between two edges that cross makes it shorter, so that this comes to an end. */
function withoutOneCrossing(path: readonly PlanPoint[]): PlanPoint[] | undefined {
  const at = (index: number): PlanPoint => path[index % path.length] ?? [0, 0];
  for (let i = 0; i < path.length; i++) {
    for (let j = i + 2; j < path.length; j++) {
      if (segment(at(i), at(i + 1)).intersect(segment(at(j), at(j + 1))).length === 0) continue;
      const turned = path.slice(i + 1, j + 1).reverse();
      const shorter = [...path.slice(0, i + 1), ...turned, ...path.slice(j + 1)];
      if (length(shorter) < length(path) - 1e-6) return shorter;
    }
  }
  return undefined;
}

const length = (path: readonly PlanPoint[]) =>
  path.reduce((sum, [x, y], i) => {
    const [u, v] = path[(i + 1) % path.length] ?? [x, y];
    return sum + Math.hypot(u - x, v - y);
  }, 0);

const tangle = fc.array(corner, { minLength: 3, maxLength: 14 });
const simplePolygon = tangle.map(untangled).filter(points => selfCrossing(points) === undefined);
const flattened = (points: readonly PlanPoint[]) =>
  new Flatten.Polygon(points.map(([x, y]) => new Flatten.Point(x, y)));

describe('flatten-js agrees', () => {
  test('inside, outside, distance and area', () => {
    let [inside, outside] = [0, 0];
    fc.assert(
      fc.property(
        simplePolygon,
        fc.array(anywhere, { minLength: 20, maxLength: 20 }),
        (points, at) => {
          const area = compileArea({ shape: { kind: 'polygon', points } });
          const peer = flattened(points);
          expect(polygonArea(points)).toBeCloseTo(peer.area(), 9);
          for (const [x, y] of at) {
            const ours = signedDistanceM(area, x, y, 0);
            const point = new Flatten.Point(x, y);
            const nearest = Math.min(
              ...[...peer.edges].map(edge => point.distanceTo(edge.shape)[0]),
            );
            const said = () => `${ours} at ${x}, ${y}, and theirs ${nearest}`;
            demand(Math.abs(Math.abs(ours) - nearest) < 5e-7, said);
            if (nearest < NEAR_M) continue;
            demand(ours < 0 === peer.contains(point), said);
            if (ours < 0) inside++;
            else outside++;
          }
        },
      ),
      { seed: SEED, numRuns: 1000 },
    );
    // Thousands of each, or the comparison shows little.
    expect(inside).toBeGreaterThan(3000);
    expect(outside).toBeGreaterThan(3000);
  });

  test('which polygons cross themselves', () => {
    let [simple, crossing] = [0, 0];
    fc.assert(
      fc.property(fc.oneof(tangle, tangle.map(untangled)), points => {
        const edges = points.map((p, i) => segment(p, points[(i + 1) % points.length] ?? p));
        // Not near enough to touch by one tolerance and not by the other.
        fc.pre(edges.every(edge => edge.length > NEAR_M));
        const found = edges.some((edge, i) =>
          edges.some(
            (other, j) =>
              j > i + 1 && !(i === 0 && j === edges.length - 1) && edge.intersect(other).length > 0,
          ),
        );
        const ours = selfCrossing(points);
        if (ours?.kind === 'folds-back') return;
        expect(ours !== undefined).toBe(found);
        if (found) crossing++;
        else simple++;
      }),
      { seed: SEED, numRuns: 2000 },
    );
    expect(simple).toBeGreaterThan(500);
    expect(crossing).toBeGreaterThan(500);
  });
});

describe('sampling agrees', () => {
  const STEP_M = 0.05;
  const steps = (from: number, to: number) =>
    Array.from({ length: Math.ceil((to - from) / STEP_M) + 1 }, (_, i) =>
      Math.min(to, from + i * STEP_M),
    );

  /** Points on the whole surface of an upright solid, no further than STEP_M apart along each axis. */
  function surface(options: AreaOptions, walls: readonly PlanPoint[]): number[][] {
    const { fromM, toM } = options.height ?? { fromM: 0, toM: 0 };
    const column = compileArea({ shape: options.shape });
    const cap: number[][] = [];
    for (const x of steps(-2.5, 2.5)) {
      for (const y of steps(-2.5, 2.5)) {
        if (signedDistanceM(column, x, y, 0) <= 0) cap.push([x, y, fromM], [x, y, toM]);
      }
    }
    return [...walls.flatMap(([x, y]) => steps(fromM, toM).map(z => [x, y, z])), ...cap];
  }

  function wallsOf(points: readonly PlanPoint[]): PlanPoint[] {
    return points.flatMap(([x, y], i) => {
      const [u, v] = points[(i + 1) % points.length] ?? [x, y];
      const span = Math.hypot(u - x, v - y);
      return steps(0, span).map(
        (s): PlanPoint => [x + ((u - x) * s) / span, y + ((v - y) * s) / span],
      );
    });
  }

  const near = fc.double({ min: -2.5, max: 2.5, noNaN: true });
  const height = fc
    .tuple(near, fc.double({ min: 0.2, max: 3, noNaN: true }))
    .map(([fromM, span]) => ({ fromM, toM: fromM + span }));

  function agrees(options: AreaOptions, walls: readonly PlanPoint[], at: readonly number[][]) {
    const area = compileArea(options);
    const shell = surface(options, walls);
    for (const [x = 0, y = 0, z = 0] of at) {
      const sampled = shell.reduce(
        (least, [u = 0, v = 0, w = 0]) => Math.min(least, Math.hypot(u - x, v - y, w - z)),
        Number.POSITIVE_INFINITY,
      );
      const ours = Math.abs(signedDistanceM(area, x, y, z));
      // A sample lies on the surface, so it is never nearer; half a diagonal of the grid further at
      // most on a wall, and a whole one on a cap, whose rim the grid may miss by a step.
      expect(sampled).toBeGreaterThanOrEqual(ours - 1e-9);
      expect(sampled).toBeLessThanOrEqual(ours + STEP_M * Math.SQRT2);
    }
  }

  const points3 = fc.array(fc.tuple(fc.double({ min: -4, max: 4, noNaN: true }), near, near), {
    minLength: 10,
    maxLength: 10,
  });

  test('extruded polygons', () => {
    const small = fc.integer({ min: -250, max: 250 }).map(value => value / 100);
    const polygon = fc
      .array(fc.tuple(small, small), { minLength: 3, maxLength: 8 })
      .map(untangled)
      .filter(points => selfCrossing(points) === undefined);
    fc.assert(
      fc.property(polygon, height, points3, (points, tall, at) => {
        agrees({ shape: { kind: 'polygon', points }, height: tall }, wallsOf(points), at);
      }),
      { seed: SEED, numRuns: 40 },
    );
  });

  test('extruded circles', () => {
    const radius = fc.double({ min: 0.2, max: 2, noNaN: true });
    fc.assert(
      fc.property(radius, height, points3, (radiusM, tall, at) => {
        const rim = steps(0, 2 * Math.PI * radiusM).map(
          (arc): PlanPoint => [
            radiusM * Math.cos(arc / radiusM),
            radiusM * Math.sin(arc / radiusM),
          ],
        );
        const centre = { x: 0, y: 0 };
        agrees({ shape: { kind: 'circle', centre, radiusM }, height: tall }, rim, at);
      }),
      { seed: SEED, numRuns: 40 },
    );
  });
});
