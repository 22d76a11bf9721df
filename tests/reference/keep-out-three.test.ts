/**
 * Beams and keep-outs against three.js r187 (MIT). Its Raycaster meets the volume where a beam is on it, and points spread over the surface
 * of its geometries (extruded shapes, spheres) tell from below how near a beam comes: the angle between directions by
 * Vector3.angleTo. Ours may never be larger than that, and smaller by no more than the spread of the points.
 */
import fc from 'fast-check';
import {
  type BufferGeometry,
  DoubleSide,
  ExtrudeGeometry,
  Mesh,
  MeshBasicMaterial,
  Raycaster,
  Shape,
  SphereGeometry,
  Vector2,
  Vector3,
} from 'three';
import { describe, expect, test } from 'vitest';
import type { PlanPoint } from '../../src/stage/area.js';
import { angleTo, distanceTo, seenFrom, type VolumeOptions } from '../../src/stage/volume.js';
import { demand } from '../demand.js';

const SEED = 20261130;
const metres = fc.double({ min: -10, max: 10, noNaN: true });
const place = fc.tuple(metres, metres, metres);
const direction = place
  .filter(([x, y, z]) => Math.hypot(x, y, z) > 0.5)
  .map(([x, y, z]) => new Vector3(x, y, z).normalize());
/** Towards something near the volumes, so that many a ray meets them. */
const aimed = fc
  .tuple(metres, metres, metres)
  .map(([x, y, z]) => new Vector3(3 + x / 4, -6 + y / 4, 1.5 + z / 6));
const material = new MeshBasicMaterial({ side: DoubleSide });

const box: readonly PlanPoint[] = [[-4, -7], [6, -7], [6, -3], [-4, -3]]; // biome-ignore format: a plan
/** An L, so that not all of it is convex. */
const corner: readonly PlanPoint[] = [[-4, -7], [6, -7], [6, -1], [3, -1], [3, -3], [-4, -3]]; // biome-ignore format: a plan
const [FROM, TO] = [-0.5, 2.2];

function extruded(points: readonly PlanPoint[]): Mesh {
  const shape = new Shape(points.map(([x, y]) => new Vector2(x, y)));
  const geometry = new ExtrudeGeometry(shape, { depth: TO - FROM, bevelEnabled: false });
  geometry.translate(0, 0, FROM);
  return new Mesh(geometry, material);
}

const upright = (points: readonly PlanPoint[]): VolumeOptions => ({
  kind: 'upright',
  area: { shape: { kind: 'polygon', points }, height: { fromM: FROM, toM: TO } },
});
const ball: VolumeOptions = { kind: 'ball', centre: { x: 3, y: -6, z: 1.5 }, radiusM: 0.8 };
const sphere = new Mesh(new SphereGeometry(0.8, 96, 64).translate(3, -6, 1.5), material);

const volumes = [
  ['a box', upright(box), extruded(box), 0],
  ['an L', upright(corner), extruded(corner), 0],
  // Of flat triangles, which cut off up to 0.8 (1 - cos(pi / 96)) + ... of the ball.
  ['a ball', ball, sphere, 0.004],
] as const;

/** Points all over the triangles of a mesh, no farther from each other than this, metres. */
const SPACING_M = 0.25;

function pointsOf(geometry: BufferGeometry): Vector3[] {
  const flat = geometry.index === null ? geometry : geometry.toNonIndexed();
  const positions = flat.getAttribute('position');
  const points: Vector3[] = [];
  for (let i = 0; i < positions.count; i += 3) {
    const [a, b, c] = [0, 1, 2].map(k => new Vector3().fromBufferAttribute(positions, i + k)) as [
      Vector3,
      Vector3,
      Vector3,
    ];
    const longest = Math.max(a.distanceTo(b), b.distanceTo(c), c.distanceTo(a));
    const steps = Math.max(1, Math.ceil(longest / SPACING_M));
    for (let u = 0; u <= steps; u++) {
      for (let v = 0; v <= steps - u; v++) {
        points.push(
          a
            .clone()
            .addScaledVector(b.clone().sub(a), u / steps)
            .addScaledVector(c.clone().sub(a), v / steps),
        );
      }
    }
  }
  return points;
}

describe.each(volumes)('%s', (_, volume, mesh, roundM) => {
  test('a ray meets it where the Raycaster of three meets it', () => {
    let met = 0;
    fc.assert(
      fc.property(place, aimed, ([x, y, z], to) => {
        const at = { x, y, z };
        if (distanceTo(volume, at) < 0.01) return;
        const d = to.sub(new Vector3(x, y, z)).normalize();
        const angle = angleTo(seenFrom(volume, at), d.x, d.y, d.z);
        const hits = new Raycaster(new Vector3(x, y, z), d).intersectObject(mesh);
        if (hits.length > 0) met += 1;
        // Within a hair of its edge, or of the flat triangles of a ball, either may be right.
        const isRight =
          hits.length > 0 ? angle < 1e-6 : angle >= 1e-9 || grazes(mesh, at, d, roundM);
        demand(isRight, () => `${hits.length} hits, ${angle} rad beside it`);
      }),
      { numRuns: 400, seed: SEED },
    );
    expect(met).toBeGreaterThan(30);
  });

  test('a beam beside it is as far off as the nearest of its points', () => {
    const points = pointsOf(mesh.geometry);
    fc.assert(
      fc.property(place, direction, ([x, y, z], d) => {
        const at = { x, y, z };
        const away = distanceTo(volume, at);
        if (away < 0.5) return;
        const angle = angleTo(seenFrom(volume, at), d.x, d.y, d.z);
        const [from, to] = [new Vector3(x, y, z), new Vector3()];
        let nearest = Math.PI;
        for (const p of points) nearest = Math.min(nearest, to.subVectors(p, from).angleTo(d));
        expect(angle).toBeLessThan(nearest + 1e-6);
        expect(nearest - angle).toBeLessThan(Math.atan((SPACING_M + roundM) / away));
      }),
      { numRuns: 40, seed: SEED },
    );
  });
});

/** It passes within so many metres of the surface, or through a hair of an edge. */
function grazes(mesh: Mesh, at: { x: number; y: number; z: number }, d: Vector3, roundM: number) {
  const from = new Vector3(at.x, at.y, at.z);
  return [-1, 1].some(sx =>
    [-1, 1].some(sy =>
      [-1, 1].some(sz => {
        const hair = new Vector3(sx, sy, sz).multiplyScalar(1e-6 + roundM / 2);
        return (
          new Raycaster(from, d.clone().add(hair).normalize()).intersectObject(mesh).length > 0
        );
      }),
    ),
  );
}

test('a circle is a polygon round it: never less, and at most 0.3 % more', () => {
  const circle = { kind: 'circle', centre: { x: 1, y: -4 }, radiusM: 2 } as const;
  const round = seenFrom(
    { kind: 'upright', area: { shape: circle, height: { fromM: 0, toM: 3 } } },
    { x: 1, y: 6, z: 1 },
  );
  // From 10 m off, level: its sides are at asin(2 / 10).
  fc.assert(
    fc.property(fc.double({ min: -0.6, max: 0.6, noNaN: true }), turn => {
      const angle = angleTo(round, Math.sin(turn), -Math.cos(turn), 0);
      const exact = Math.max(0, Math.abs(turn) - Math.asin(2 / 10));
      expect(angle).toBeLessThanOrEqual(exact + 1e-9);
      expect(exact - angle).toBeLessThan(0.003 * Math.asin(2 / 10));
    }),
    { numRuns: 300, seed: SEED },
  );
});
