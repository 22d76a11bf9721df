import type { Vec3 } from '../stage/vector.js';
import type { SolidOptions } from './options.js';

/** Length in metres of the part of the line from a to b that lies inside an upright cylinder. */
export function pathInCylinderM(
  a: Readonly<Vec3>,
  b: Readonly<Vec3>,
  x: number,
  y: number,
  radiusM: number,
  fromM: number,
  toM: number,
): number {
  if (Math.min(a.z, b.z) >= toM || Math.max(a.z, b.z) <= fromM) return 0;
  const [dx, dy, dz] = [b.x - a.x, b.y - a.y, b.z - a.z];
  const [ox, oy] = [a.x - x, a.y - y];
  // |o + t d|^2 = r^2 on the plan.
  const square = dx * dx + dy * dy;
  const half = ox * dx + oy * dy;
  const outside = ox * ox + oy * oy - radiusM * radiusM;
  let [enter, leave] = [0, 1];
  if (square > 0) {
    const root = half * half - square * outside;
    if (root <= 0) return 0;
    enter = Math.max(enter, (-half - Math.sqrt(root)) / square);
    leave = Math.min(leave, (-half + Math.sqrt(root)) / square);
  } else if (outside >= 0) return 0;
  if (dz !== 0) [enter, leave] = within(enter, leave, (fromM - a.z) / dz, (toM - a.z) / dz);
  return leave > enter ? (leave - enter) * Math.sqrt(square + dz * dz) : 0;
}

/** The part of a line from `enter` to `leave` that is between two faces, which it meets at `t1` and `t2`. */
function within(enter: number, leave: number, t1: number, t2: number): [number, number] {
  return [Math.max(enter, Math.min(t1, t2)), Math.min(leave, Math.max(t1, t2))];
}

/** Length in metres of the part of the line from a to b that lies inside a box along the axes. */
function pathInBoxM(
  a: Readonly<Vec3>,
  b: Readonly<Vec3>,
  { min, max }: { readonly min: Readonly<Vec3>; readonly max: Readonly<Vec3> },
): number {
  let [enter, leave] = [0, 1];
  for (const axis of ['x', 'y', 'z'] as const) {
    const d = b[axis] - a[axis];
    if (d === 0) {
      if (a[axis] < min[axis] || a[axis] > max[axis]) return 0;
      continue;
    }
    [enter, leave] = within(enter, leave, (min[axis] - a[axis]) / d, (max[axis] - a[axis]) / d);
  }
  return leave > enter ? (leave - enter) * Math.hypot(b.x - a.x, b.y - a.y, b.z - a.z) : 0;
}

export function pathInM(solid: SolidOptions, a: Readonly<Vec3>, b: Readonly<Vec3>): number {
  switch (solid.kind) {
    case 'box':
      return pathInBoxM(a, b, solid);
    case 'cylinder':
      return pathInCylinderM(a, b, solid.x, solid.y, solid.radiusM, solid.fromM, solid.toM);
  }
}

/** Whether a point lies in the solid or on its surface. */
export function holds(solid: SolidOptions, { x, y, z }: Readonly<Vec3>): boolean {
  switch (solid.kind) {
    case 'box':
      return (
        x >= solid.min.x &&
        x <= solid.max.x &&
        y >= solid.min.y &&
        y <= solid.max.y &&
        z >= solid.min.z &&
        z <= solid.max.z
      );
    case 'cylinder':
      return (
        Math.hypot(x - solid.x, y - solid.y) <= solid.radiusM && z >= solid.fromM && z <= solid.toM
      );
  }
}
