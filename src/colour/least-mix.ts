import type { Xyz } from './chromaticity.js';

export type Vector = [number, number, number];

const MOST_STEPS = 200;
/** Of what the brightest emitter gives: far below a step of 16 bits. */
const CLOSE = 1e-12;

/**
 * Levels of 0 to 1 at which emitters P make t together, with the least sum of squares: min e.e / 2 with P e = t.
 *
 * By its dual, which has one unknown for each of X, Y and Z, however many emitters there are: the levels are
 * e = min(1, max(0, P'm)) for the multipliers m at which P e = t, and those are where a concave function, quadratic in pieces,
 * is greatest (Boyd and Vandenberghe, Convex Optimization, 5.5). Newton steps with an exact search along each.
 *
 * @param wanted what the emitters can make; of what they can't, something near it
 */
export function leastMix(emitters: readonly Xyz[], wanted: Xyz): number[] {
  const scale = Math.max(...emitters.map(({ X, Y, Z }) => Math.max(X, Y, Z)));
  const points = emitters.map(({ X, Y, Z }): Vector => [X / scale, Y / scale, Z / scale]);
  const target: Vector = [wanted.X / scale, wanted.Y / scale, wanted.Z / scale];
  const m: Vector = [0, 0, 0];
  for (let step = 0; step < MOST_STEPS; step++) {
    const rest = restOf(points, m, target);
    if (Math.max(...rest.map(Math.abs)) < CLOSE) break;
    const direction = newtonStep(points, m, rest);
    const length = lengthAlong(points, m, direction, target);
    if (!(length > 0)) break;
    for (const k of AXES) m[k] += length * direction[k];
  }
  return points.map(p => clamp(dot(p, m)));
}

const AXES = [0, 1, 2] as const;

/** What is missing of the target: the slope of the dual. */
function restOf(points: readonly Vector[], m: Vector, target: Vector): Vector {
  const rest: Vector = [...target];
  for (const p of points) {
    const level = clamp(dot(p, m));
    for (const k of AXES) rest[k] -= level * p[k];
  }
  return rest;
}

/** Where too few emitters are between dark and full to say how far, so far that the search along it decides. */
const DAMPING = 1e-10;

function newtonStep(points: readonly Vector[], m: Vector, rest: Vector): Vector {
  const rows: [Vector, Vector, Vector] = [
    [DAMPING, 0, 0],
    [0, DAMPING, 0],
    [0, 0, DAMPING],
  ];
  for (const p of points) {
    const at = dot(p, m);
    if (at < 0 || at > 1) continue;
    for (const i of AXES) for (const k of AXES) rows[i][k] += p[i] * p[k];
  }
  const [a, b, c] = rows;
  const [bc, ca, ab] = [cross(b, c), cross(c, a), cross(a, b)];
  const det = dot(a, bc);
  // The inverse of a symmetric matrix: the cross products of its rows over its determinant.
  const solved: Vector = [dot(bc, rest) / det, dot(ca, rest) / det, dot(ab, rest) / det];
  return Number.isFinite(solved[0] + solved[1] + solved[2]) && dot(solved, rest) > 0
    ? solved
    : rest;
}

/** Where the dual is greatest along a direction: its slope falls, in pieces that are straight. */
function lengthAlong(
  points: readonly Vector[],
  m: Vector,
  direction: Vector,
  target: Vector,
): number {
  const at = points.map(p => dot(p, m));
  const by = points.map(p => dot(p, direction));
  const wanted = dot(target, direction);
  const slopeAt = (length: number) => {
    let slope = wanted;
    for (let i = 0; i < at.length; i++) {
      const way = by[i] as number;
      slope -= way * clamp((at[i] as number) + length * way);
    }
    return slope;
  };
  const bends = at
    .flatMap((value, i) => [-value / (by[i] as number), (1 - value) / (by[i] as number)])
    .filter(length => length > 0 && Number.isFinite(length))
    .sort((a, b) => a - b);
  let [from, slope] = [0, slopeAt(0)];
  for (const to of bends) {
    const next = slopeAt(to);
    if (next <= 0) return slope === next ? to : from + ((to - from) * slope) / (slope - next);
    [from, slope] = [to, next];
  }
  return from;
}

function clamp(level: number): number {
  return Math.min(1, Math.max(0, level));
}

export function dot(a: Vector, b: Vector): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

export function cross([a, b, c]: Vector, [x, y, z]: Vector): Vector {
  return [b * z - c * y, c * x - a * z, a * y - b * x];
}
