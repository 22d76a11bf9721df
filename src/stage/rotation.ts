import type { Radians } from './units.js';
import type { Vec3 } from './vector.js';

// biome-ignore format: a matrix is read by its rows
/** A 3 x 3 rotation matrix in row-major order: `v' = R v`. */
export type Rotation = readonly [
  number, number, number,
  number, number, number,
  number, number, number,
];

export const IDENTITY: Rotation = [1, 0, 0, 0, 1, 0, 0, 0, 1];

/**
 * Turns about the fixed axes of the outer frame, x first, then y, then z: `R = Rz Ry Rx`,
 * each turn right-handed (anticlockwise seen from the tip of its axis).
 */
export function rotationFromTurns(aboutX: Radians, aboutY: Radians, aboutZ: Radians): Rotation {
  const [cx, sx] = [Math.cos(aboutX), Math.sin(aboutX)];
  const [cy, sy] = [Math.cos(aboutY), Math.sin(aboutY)];
  const [cz, sz] = [Math.cos(aboutZ), Math.sin(aboutZ)];
  return [
    cz * cy,
    cz * sy * sx - sz * cx,
    cz * sy * cx + sz * sx,
    sz * cy,
    sz * sy * sx + cz * cx,
    sz * sy * cx - cz * sx,
    -sy,
    cy * sx,
    cy * cx,
  ];
}

/**
 * The turns that `rotationFromTurns` makes this rotation of: x and z within half a turn either way, y
 * within a quarter. Where y is a quarter turn, x and z turn about the same axis, and x is 0.
 */
export function turnsFromRotation(r: Rotation): { x: Radians; y: Radians; z: Radians } {
  const cosY = Math.hypot(r[0], r[3]);
  const y = Math.atan2(-r[6], cosY) as Radians;
  // Below this the two other turns would be made of rounding alone.
  if (cosY < 1e-9) return { x: 0 as Radians, y, z: Math.atan2(-r[1], r[4]) as Radians };
  return {
    x: Math.atan2(r[7], r[8]) as Radians,
    y,
    z: Math.atan2(r[3], r[0]) as Radians,
  };
}

/** `out = R' v`, the way back; `out` may be `v` itself. */
export function rotateBack(r: Rotation, v: Readonly<Vec3>, out: Vec3): Vec3 {
  const { x, y, z } = v;
  out.x = r[0] * x + r[3] * y + r[6] * z;
  out.y = r[1] * x + r[4] * y + r[7] * z;
  out.z = r[2] * x + r[5] * y + r[8] * z;
  return out;
}

/** The rotation that turns by `b` first and by `a` then: `C = A B`. */
export function compose(a: Rotation, b: Rotation): Rotation {
  return [
    a[0] * b[0] + a[1] * b[3] + a[2] * b[6],
    a[0] * b[1] + a[1] * b[4] + a[2] * b[7],
    a[0] * b[2] + a[1] * b[5] + a[2] * b[8],
    a[3] * b[0] + a[4] * b[3] + a[5] * b[6],
    a[3] * b[1] + a[4] * b[4] + a[5] * b[7],
    a[3] * b[2] + a[4] * b[5] + a[5] * b[8],
    a[6] * b[0] + a[7] * b[3] + a[8] * b[6],
    a[6] * b[1] + a[7] * b[4] + a[8] * b[7],
    a[6] * b[2] + a[7] * b[5] + a[8] * b[8],
  ];
}

/** `out = R v`; `out` may be `v` itself. */
export function rotate(r: Rotation, v: Readonly<Vec3>, out: Vec3): Vec3 {
  const { x, y, z } = v;
  out.x = r[0] * x + r[1] * y + r[2] * z;
  out.y = r[3] * x + r[4] * y + r[5] * z;
  out.z = r[6] * x + r[7] * y + r[8] * z;
  return out;
}
