import { type AreaOptions, compileArea, type PlanPoint, signedDistanceM } from './area.js';
import type { Vec3 } from './vector.js';

/** A part of the room: a ball, or what stands upright on an area. */
export type VolumeOptions =
  | { readonly kind: 'ball'; readonly centre: Readonly<Vec3>; readonly radiusM: number }
  | { readonly kind: 'upright'; readonly area: AreaOptions };

/** What has no end goes on for so far, metres: no house is as large. */
const ENDLESS_M = 1000;
/** A circle is a polygon round it, so that nothing of it is left out: 0.2 % wider. */
const CORNERS = 48;

/**
 * A volume as it is seen from one place, where a beam starts: in directions. The directions of an upright one are
 * bounded by some of its edges, which are arcs of great circles from there; the one that is nearest to a direction outside lies on one
 * of them, and all of them are within it.
 */
export interface SeenVolume {
  /** A cap of directions round all of it: its middle, a unit vector, and its radius; PI where there is none smaller. */
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly radius: number;
  /** How much nearer a beam is for its breadth where it leaves the head, radians: its radius at the nearest distance. */
  readonly forBreadth: number;
  /** Its edges, EDGE_SIZE numbers each; none of a ball, which is the cap itself. */
  readonly edges: Float64Array;
  readonly solid: Solid | undefined;
}

interface Solid {
  readonly corners: readonly PlanPoint[];
  readonly fromM: number;
  readonly toM: number;
  /** Where it is seen from. */
  readonly at: Readonly<Vec3>;
}

/**
 * Of an arc from a to b: a, the pole n = a x b, and the planes through n and its ends: a direction d has its foot
 * on the arc where u.d and w.d are above 0.
 */
const EDGE = { a: 0, n: 3, u: 6, w: 9 } as const;
const EDGE_SIZE = 12;

/** Seen end on, an edge is a point. */
const NO_ARC = 1e-12;

/** @param beamRadiusM of the beam where it leaves the head */
export function seenFrom(volume: VolumeOptions, at: Readonly<Vec3>, beamRadiusM = 0): SeenVolume {
  const distanceM = distanceTo(volume, at);
  const forBreadth = distanceM > 0 ? Math.atan2(beamRadiusM, distanceM) : 0;
  if (volume.kind === 'ball') {
    const { centre, radiusM } = volume;
    const middle = unit([centre.x - at.x, centre.y - at.y, centre.z - at.z]);
    const radius = distanceM > 0 ? Math.asin(radiusM / (distanceM + radiusM)) : Math.PI;
    return { ...named(middle), radius, forBreadth, edges: new Float64Array(0), solid: undefined };
  }
  const { area } = volume;
  const fromM = Math.max(area.height?.fromM ?? 0, -ENDLESS_M);
  const toM = Math.min(area.height?.toM ?? ENDLESS_M, ENDLESS_M);
  const corners = cornersOf(area);
  const directions = [fromM, toM].map(z =>
    corners.map(([x, y]) => unit([x - at.x, y - at.y, z - at.z])),
  ) as [Direction[], Direction[]];
  const edges = new Float64Array(3 * corners.length * EDGE_SIZE);
  corners.forEach((_, i) => {
    const next = (i + 1) % corners.length;
    const [low, high] = directions;
    const all = [
      [low[i], low[next]],
      [high[i], high[next]],
      [low[i], high[i]],
    ] as [Direction, Direction][];
    all.forEach(([a, b], k) => {
      writeArc(edges, (3 * i + k) * EDGE_SIZE, a, b);
    });
  });
  const solid = { corners, fromM, toM, at: { ...at } };
  return { ...capOf(directions.flat()), forBreadth, edges, solid };
}

/** From a place to the nearest of it, metres; 0 or less inside. */
export function distanceTo(volume: VolumeOptions, { x, y, z }: Readonly<Vec3>): number {
  if (volume.kind === 'ball') {
    const { centre, radiusM } = volume;
    return Math.hypot(x - centre.x, y - centre.y, z - centre.z) - radiusM;
  }
  const { area } = volume;
  return signedDistanceM(compileArea({ ...area, height: heightOf(area) }), x, y, z);
}

/** From the floor up without end where it has none. */
export function heightOf({ height }: AreaOptions): {
  readonly fromM: number;
  readonly toM: number;
} {
  return height ?? { fromM: 0, toM: ENDLESS_M };
}

/**
 * How far a direction is from the nearest one in which the volume lies, radians; 0 where the ray meets it.
 * @param dx, dy, dz a unit vector
 * @param within farther than this it needs not be exact: a lower bound will do
 */
export function angleTo(
  seen: SeenVolume,
  dx: number,
  dy: number,
  dz: number,
  within = Math.PI,
): number {
  const { edges, radius, solid } = seen;
  const toCap =
    radius >= Math.PI ? 0 : Math.acos(clamped(dx * seen.x + dy * seen.y + dz * seen.z)) - radius;
  if (solid === undefined || toCap > within) return Math.max(0, toCap);
  if (meets(solid, dx, dy, dz)) return 0;
  let nearest = -1;
  let least = Math.PI;
  for (let e = 0; e < edges.length; e += EDGE_SIZE) {
    nearest = Math.max(nearest, dot(edges, e + EDGE.a, dx, dy, dz));
    if (dot(edges, e + EDGE.u, dx, dy, dz) <= 0 || dot(edges, e + EDGE.w, dx, dy, dz) <= 0)
      continue;
    least = Math.min(least, Math.abs(Math.asin(clamped(dot(edges, e + EDGE.n, dx, dy, dz)))));
  }
  return Math.min(least, Math.acos(clamped(nearest)));
}

/** Whether the ray from where it is seen goes through it. */
function meets({ corners, fromM, toM, at }: Solid, dx: number, dy: number, dz: number): boolean {
  let isInside = false;
  let lowInside = false;
  let highInside = false;
  // Where the ray goes through the planes of floor and ceiling; behind it where it doesn't.
  const toLow = dz === 0 ? -1 : (fromM - at.z) / dz;
  const toHigh = dz === 0 ? -1 : (toM - at.z) / dz;
  const [lowX, lowY] = [at.x + toLow * dx, at.y + toLow * dy];
  const [highX, highY] = [at.x + toHigh * dx, at.y + toHigh * dy];
  let [ax, ay] = corners.at(-1) as PlanPoint;
  for (const [bx, by] of corners) {
    if (passes(ax, ay, bx, by, at.x, at.y)) isInside = !isInside;
    if (passes(ax, ay, bx, by, lowX, lowY)) lowInside = !lowInside;
    if (passes(ax, ay, bx, by, highX, highY)) highInside = !highInside;
    // Through this wall: the point of it where the ray passes on the plan, and how high that is.
    const [ex, ey] = [bx - ax, by - ay];
    const across = dx * ey - dy * ex;
    if (across !== 0) {
      const along = ((ax - at.x) * ey - (ay - at.y) * ex) / across;
      const share = ((ax - at.x) * dy - (ay - at.y) * dx) / across;
      const z = at.z + along * dz;
      if (along >= 0 && share >= 0 && share <= 1 && z >= fromM && z <= toM) return true;
    }
    [ax, ay] = [bx, by];
  }
  if (isInside && at.z >= fromM && at.z <= toM) return true;
  return (toLow >= 0 && lowInside) || (toHigh >= 0 && highInside);
}

/** Even-odd rule: the edge crosses the ray from the point towards growing x. */
function passes(ax: number, ay: number, bx: number, by: number, x: number, y: number): boolean {
  return ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax);
}

function cornersOf({ shape }: AreaOptions): readonly PlanPoint[] {
  if (shape.kind === 'polygon') return shape.points;
  const { centre, radiusM } = shape;
  const outer = radiusM / Math.cos(Math.PI / CORNERS);
  return Array.from({ length: CORNERS }, (_, i): PlanPoint => {
    const angle = (2 * Math.PI * i) / CORNERS;
    return [centre.x + outer * Math.cos(angle), centre.y + outer * Math.sin(angle)];
  });
}

type Direction = readonly [number, number, number];

/** Of no length: up, as good as any. */
function unit([x, y, z]: Direction): Direction {
  const length = Math.hypot(x, y, z);
  return length > 0 ? [x / length, y / length, z / length] : [0, 0, 1];
}

function named([x, y, z]: Direction) {
  return { x, y, z };
}

function cross([ax, ay, az]: Direction, [bx, by, bz]: Direction): Direction {
  return [ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx];
}

function writeArc(edges: Float64Array, at: number, a: Direction, b: Direction): void {
  const across = cross(a, b);
  edges.set(a, at + EDGE.a);
  // Without an arc no direction has a foot on it: all the rest stays 0.
  if (Math.hypot(...across) < NO_ARC) return;
  const n = unit(across);
  edges.set(n, at + EDGE.n);
  edges.set(cross(n, a), at + EDGE.u);
  edges.set(cross(b, n), at + EDGE.w);
}

/**
 * Round all of them. What is smaller than half of the sphere holds the arcs between its directions as well; anything else has no
 * cap, as when it is seen from within.
 */
function capOf(directions: readonly Direction[]) {
  const sum = directions.reduce(([x, y, z], one) => [x + one[0], y + one[1], z + one[2]], [
    0, 0, 0,
  ] as Direction);
  const middle = unit(sum);
  const least = Math.min(
    ...directions.map(one => one[0] * middle[0] + one[1] * middle[1] + one[2] * middle[2]),
  );
  const radius = Math.acos(clamped(least));
  return { ...named(middle), radius: radius < 0.99 * (Math.PI / 2) ? radius : Math.PI };
}

function dot(numbers: Float64Array, at: number, x: number, y: number, z: number): number {
  return (
    (numbers[at] as number) * x + (numbers[at + 1] as number) * y + (numbers[at + 2] as number) * z
  );
}

function clamped(cosine: number): number {
  return Math.min(1, Math.max(-1, cosine));
}
