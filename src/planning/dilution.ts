import type { RangingKind } from './options.js';

/**
 * What a set of anchors tells about a place: the sums, over the unit vectors u from the place to the
 * anchors, of 1, u and u uT. Sums of two sets add up.
 */
export type Geometry = Float64Array;

/** Places of the sums in a Geometry. */
const AT = { n: 0, x: 1, y: 2, z: 3, xx: 4, xy: 5, xz: 6, yy: 7, yz: 8, zz: 9 } as const;
export const GEOMETRY_SIZE = 10;

/** How much larger an error of position is than an error of range; infinite where there is no position. */
export interface Dilution {
  /** Across the floor: root of the sum of the variances of x and y. */
  horizontal: number;
  vertical: number;
  position: number;
  /** Of the common clock of the arrivals, in metres of path; 0 for ranges, which need none. */
  clock: number;
}

export function geometry(): Geometry {
  return new Float64Array(GEOMETRY_SIZE);
}

/** Adds an anchor in the direction (dx, dy, dz), of any length but 0. */
export function addAnchor(sums: Geometry, dx: number, dy: number, dz: number): Geometry {
  const length = Math.hypot(dx, dy, dz);
  if (!(length > 0)) return sums;
  const [x, y, z] = [dx / length, dy / length, dz / length];
  sums[AT.n] = (sums[AT.n] ?? 0) + 1;
  sums[AT.x] = (sums[AT.x] ?? 0) + x;
  sums[AT.y] = (sums[AT.y] ?? 0) + y;
  sums[AT.z] = (sums[AT.z] ?? 0) + z;
  sums[AT.xx] = (sums[AT.xx] ?? 0) + x * x;
  sums[AT.xy] = (sums[AT.xy] ?? 0) + x * y;
  sums[AT.xz] = (sums[AT.xz] ?? 0) + x * z;
  sums[AT.yy] = (sums[AT.yy] ?? 0) + y * y;
  sums[AT.yz] = (sums[AT.yz] ?? 0) + y * z;
  sums[AT.zz] = (sums[AT.zz] ?? 0) + z * z;
  return sums;
}

/** `sums += other[from ...]`; `other` may hold several geometries in a row. */
export function addGeometry(sums: Geometry, other: Float64Array, from = 0): void {
  for (let i = 0; i < GEOMETRY_SIZE; i++) sums[i] = (sums[i] ?? 0) + (other[from + i] ?? 0);
}

/** `sums -= other[from ...]` */
export function subtractGeometry(sums: Geometry, other: Float64Array, from = 0): void {
  for (let i = 0; i < GEOMETRY_SIZE; i++) sums[i] = (sums[i] ?? 0) - (other[from + i] ?? 0);
}

/** A determinant of sums of squares of unit vectors below this is rounding, not geometry. */
const SINGULAR = 1e-12;

/**
 * Information about the position: A = sum u uT, and less s sT / n, s = sum u, where the clock is unknown.
 * @returns the upper half of the symmetric matrix
 */
function information(sums: Geometry, by: RangingKind) {
  const share = by === 'range' ? 0 : 1 / (sums[AT.n] || 1);
  const [x, y, z] = [sums[AT.x] ?? 0, sums[AT.y] ?? 0, sums[AT.z] ?? 0];
  return {
    xx: (sums[AT.xx] ?? 0) - share * x * x,
    xy: (sums[AT.xy] ?? 0) - share * x * y,
    xz: (sums[AT.xz] ?? 0) - share * x * z,
    yy: (sums[AT.yy] ?? 0) - share * y * y,
    yz: (sums[AT.yz] ?? 0) - share * y * z,
    zz: (sums[AT.zz] ?? 0) - share * z * z,
  };
}

/**
 * Dilution of precision of a position in space: the roots of the diagonal of the inverse of the
 * information, for errors of equal size that don't depend on each other.
 *
 * Time differences are taken as times of arrival with one unknown clock: differences to a common anchor,
 * weighted with their correlation, give the same position.
 */
export function dilution(sums: Geometry, by: RangingKind): Dilution {
  const { xx, xy, xz, yy, yz, zz } = information(sums, by);
  const minorX = yy * zz - yz * yz;
  const minorY = xx * zz - xz * xz;
  const minorZ = xx * yy - xy * xy;
  const determinant = xx * minorX - xy * (xy * zz - xz * yz) + xz * (xy * yz - xz * yy);
  if (!(determinant > SINGULAR)) {
    const none = Number.POSITIVE_INFINITY;
    return { horizontal: none, vertical: none, position: none, clock: by === 'range' ? 0 : none };
  }
  const [varX, varY, varZ] = [minorX / determinant, minorY / determinant, minorZ / determinant];
  return {
    horizontal: Math.sqrt(varX + varY),
    vertical: Math.sqrt(varZ),
    position: Math.sqrt(varX + varY + varZ),
    clock: by === 'range' ? 0 : clockDilution(sums),
  };
}

/** With the position eliminated: 1 / (n - sT (sum u uT)^-1 s). */
function clockDilution(sums: Geometry): number {
  const [xx, xy, xz] = [sums[AT.xx] ?? 0, sums[AT.xy] ?? 0, sums[AT.xz] ?? 0];
  const [yy, yz, zz] = [sums[AT.yy] ?? 0, sums[AT.yz] ?? 0, sums[AT.zz] ?? 0];
  const cxx = yy * zz - yz * yz;
  const cxy = xz * yz - xy * zz;
  const cxz = xy * yz - xz * yy;
  const cyy = xx * zz - xz * xz;
  const cyz = xy * xz - xx * yz;
  const czz = xx * yy - xy * xy;
  const determinant = xx * cxx + xy * cxy + xz * cxz;
  const [n, x, y, z] = [sums[AT.n] ?? 0, sums[AT.x] ?? 0, sums[AT.y] ?? 0, sums[AT.z] ?? 0];
  const explained =
    (x * (cxx * x + cxy * y + cxz * z) +
      y * (cxy * x + cyy * y + cyz * z) +
      z * (cxz * x + cyz * y + czz * z)) /
    determinant;
  return n - explained > SINGULAR ? 1 / Math.sqrt(n - explained) : Number.POSITIVE_INFINITY;
}

/** Dilution across the floor where the height is known: only x and y are sought. */
export function planDilution(sums: Geometry, by: RangingKind): number {
  return horizontalWith(sums, by, Number.POSITIVE_INFINITY);
}

/**
 * Dilution across the floor where something is known of the height beforehand.
 * @param heightInformation (error of a range / deviation of the height known beforehand)^2: 0 where
 *   nothing is known, infinite where the height is
 */
export function horizontalWith(sums: Geometry, by: RangingKind, heightInformation: number): number {
  const { xx, xy, xz, yy, yz, zz } = information(sums, by);
  const plan = xx * yy - xy * xy;
  if (!(plan > SINGULAR)) return Number.POSITIVE_INFINITY;
  const known = (xx + yy) / plan;
  if (heightInformation === Number.POSITIVE_INFINITY) return Math.sqrt(known);
  // Block inverse: the plan's own variance, and what an unknown height adds through its coupling.
  const [couplingX, couplingY] = [(yy * xz - xy * yz) / plan, (xx * yz - xy * xz) / plan];
  const left = zz + heightInformation - (couplingX * xz + couplingY * yz);
  if (!(left > SINGULAR)) return Number.POSITIVE_INFINITY;
  return Math.sqrt(known + (couplingX * couplingX + couplingY * couplingY) / left);
}
