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

/** `out = R v`; `out` may be `v` itself. */
export function rotate(r: Rotation, v: Readonly<Vec3>, out: Vec3): Vec3 {
  const { x, y, z } = v;
  out.x = r[0] * x + r[1] * y + r[2] * z;
  out.y = r[3] * x + r[4] * y + r[5] * z;
  out.z = r[6] * x + r[7] * y + r[8] * z;
  return out;
}
