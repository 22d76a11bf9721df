import { IDENTITY, type Rotation } from '../stage/rotation.js';
import { type Vec3, vec3 } from '../stage/vector.js';

/**
 * Where something is in the frame of what it is in: `outer = linear * inner + offset`, metres.
 *
 * GDTF and MVR write the same thing transposed. GDTF (DIN SPEC 15800) has the 4 x 4 matrix as it
 * stands in a book, row after row, the offset in the last COLUMN, in metres:
 *
 *   {a b c x}{d e f y}{g h i z}{0 0 0 1}        outer = (a b c; d e f; g h i) inner + (x, y, z)
 *
 * MVR (DIN SPEC 15801) has where the axes u, v and w of the thing point, a row each, and its origin
 * o as last ROW, in millimetres:
 *
 *   {u1 u2 u3}{v1 v2 v3}{w1 w2 w3}{o1 o2 o3}    outer = (u v w as columns) inner + o / 1000
 */
export interface Affine {
  /** Row-major, maybe scaled: what files say, not what they should. */
  readonly linear: Rotation;
  readonly offset: Readonly<Vec3>;
}

export const NOWHERE_ELSE: Affine = { linear: IDENTITY, offset: vec3(0, 0, 0) };

const METRES_PER_MVR_UNIT = 0.001;

/** @returns undefined for what is no matrix of 4 rows of 4 finite numbers */
export function gdtfMatrix(text: string): Affine | undefined {
  const m = numbersOf(text, 4, 4);
  if (m === undefined) return undefined;
  const at = (row: number, column: number) => m[4 * row + column] as number;
  return {
    linear: [
      at(0, 0),
      at(0, 1),
      at(0, 2),
      at(1, 0),
      at(1, 1),
      at(1, 2),
      at(2, 0),
      at(2, 1),
      at(2, 2),
    ],
    offset: vec3(at(0, 3), at(1, 3), at(2, 3)),
  };
}

/** @returns undefined for what is no matrix of 4 rows of 3 finite numbers */
export function mvrMatrix(text: string): Affine | undefined {
  const m = numbersOf(text, 4, 3);
  if (m === undefined) return undefined;
  const at = (row: number, column: number) => m[3 * row + column] as number;
  return {
    linear: [
      at(0, 0),
      at(1, 0),
      at(2, 0),
      at(0, 1),
      at(1, 1),
      at(2, 1),
      at(0, 2),
      at(1, 2),
      at(2, 2),
    ],
    offset: vec3(
      at(3, 0) * METRES_PER_MVR_UNIT,
      at(3, 1) * METRES_PER_MVR_UNIT,
      at(3, 2) * METRES_PER_MVR_UNIT,
    ),
  };
}

function numbersOf(text: string, rows: number, columns: number): number[] | undefined {
  const groups = [...text.matchAll(/\{([^{}]*)\}/g)].map(([, row = '']) => row.split(','));
  const around = text.replace(/\{[^{}]*\}/g, '').trim();
  if (around !== '' || groups.length !== rows) return undefined;
  if (groups.some(row => row.length !== columns)) return undefined;
  const numbers = groups.flat().map(part => (part.trim() === '' ? Number.NaN : Number(part)));
  return numbers.every(Number.isFinite) ? numbers : undefined;
}

/** What is in `inner`, which is in `outer`. */
export function within(outer: Affine, inner: Affine): Affine {
  return { linear: times(outer.linear, inner.linear), offset: applyTo(outer, inner.offset) };
}

export function applyTo({ linear: m, offset }: Affine, { x, y, z }: Readonly<Vec3>): Vec3 {
  return vec3(
    m[0] * x + m[1] * y + m[2] * z + offset.x,
    m[3] * x + m[4] * y + m[5] * z + offset.y,
    m[6] * x + m[7] * y + m[8] * z + offset.z,
  );
}

export function times(a: Rotation, b: Rotation): Rotation {
  const cell = (row: number, column: number) =>
    (a[3 * row] as number) * (b[column] as number) +
    (a[3 * row + 1] as number) * (b[3 + column] as number) +
    (a[3 * row + 2] as number) * (b[6 + column] as number);
  return [
    cell(0, 0), cell(0, 1), cell(0, 2),
    cell(1, 0), cell(1, 1), cell(1, 2),
    cell(2, 0), cell(2, 1), cell(2, 2),
  ]; // biome-ignore format: a matrix is read by its rows
}

/** Files carry six digits; more than this is no rounding but a shear or a scale. */
const NOT_RIGID = 1e-3;

export type RigidResult =
  | { readonly ok: true; readonly rotation: Rotation; readonly scaled: boolean }
  | { readonly ok: false; readonly fault: string };

/** The rotation of a placement, cleaned of rounding and of a scale; no mirror and no shear. */
export function rotationOf({ linear: m }: Affine): RigidResult {
  const column = (i: number) => vec3(m[i] as number, m[3 + i] as number, m[6 + i] as number);
  const [u, v, w] = [column(0), column(1), column(2)];
  const [lu, lv, lw] = [length(u), length(v), length(w)];
  const least = Math.min(lu, lv, lw);
  if (!(least > 1e-9)) return { ok: false, fault: 'its matrix flattens it' };
  const [a, b, c] = [scale(u, 1 / lu), scale(v, 1 / lv), scale(w, 1 / lw)];
  if (Math.max(Math.abs(dot(a, b)), Math.abs(dot(b, c)), Math.abs(dot(a, c))) > NOT_RIGID) {
    return { ok: false, fault: 'its matrix shears it' };
  }
  const third = cross(a, b);
  if (dot(third, c) < 0) return { ok: false, fault: 'its matrix mirrors it' };
  // Gram and Schmidt: the first axis stands, the second is made square to it, the third follows.
  const second = minus(b, scale(a, dot(a, b)));
  const y = scale(second, 1 / length(second));
  const z = cross(a, y);
  const scaled = [lu, lv, lw].some(one => Math.abs(one - 1) > NOT_RIGID);
  return { ok: true, scaled, rotation: [a.x, y.x, z.x, a.y, y.y, z.y, a.z, y.z, z.z] };
}

const dot = (a: Vec3, b: Vec3) => a.x * b.x + a.y * b.y + a.z * b.z;
const length = (a: Vec3) => Math.sqrt(dot(a, a));
const scale = (a: Vec3, by: number) => vec3(a.x * by, a.y * by, a.z * by);
const minus = (a: Vec3, b: Vec3) => vec3(a.x - b.x, a.y - b.y, a.z - b.z);
const cross = (a: Vec3, b: Vec3) =>
  vec3(a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x);
