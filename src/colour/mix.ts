import { type Xy, type Xyz, xyOf, xyzOf } from './chromaticity.js';
import { gamutOf, nearestIn } from './gamut.js';
import { cross, dot, leastMix, type Vector } from './least-mix.js';

/** Levels of emitters that make a colour. */
export interface Mixed {
  /** For each emitter 0..1. */
  readonly levels: readonly number[];
  /** In the unit of the emitters. */
  readonly luminance: number;
  /** How far the chromaticity is from the one that was asked, in u'v'; 0 in gamut. */
  readonly off: number;
}

/**
 * How emitters make a colour together: of all ways, the one with the least sum of squares, which is one only and changes
 * continuously with chromaticity and luminance. It takes as many emitters as can take part.
 * @param emitters each at full
 * @param luminance in their unit; undefined, or more than there can be: the most that can be
 */
export function mixOf(emitters: readonly Xyz[], wanted: Xy, luminance?: number): Mixed {
  const giving = emitters.filter(isLit);
  if (giving.length === 0) return { levels: emitters.map(() => 0), luminance: 0, off: 0 };
  const { xy, off } = nearestIn(gamutOf(giving.map(xyOf)), wanted);
  const most = mostLuminance(giving, xy);
  const had = Math.min(luminance ?? most, most);
  const found = leastMix(giving, xyzOf(xy, had));
  let next = 0;
  const levels = emitters.map(one => (isLit(one) ? (found[next++] as number) : 0));
  return { levels, luminance: had, off };
}

function isLit({ Y }: Xyz): boolean {
  return Y > 0;
}

/** Of a share of what all emitters give together: to tell a flat set of emitters from a round one. */
const FLAT = 1e-9;

/**
 * The most luminance that emitters give in a chromaticity which they can make. What they make is a zonotope, the sum of
 * the segments from dark to each of them, and the ray of the colour leaves it through a facet: facets are spanned
 * by two of the emitters, with all of the others at full that lie beyond, and dark that don't. So the least of
 * h(n) / n.T over the normals n = +-(Pi x Pj), h(n) the sum of the n.Pk above 0 (Ziegler, Lectures on Polytopes, 7.3).
 */
export function mostLuminance(emitters: readonly Xyz[], wanted: Xy): number {
  const points = emitters.map(vectorOf);
  const ray = vectorOf(xyzOf(wanted, 1));
  const scale = Math.max(...points.map(size));
  const normals: Vector[] = [];
  points.forEach((a, i) => {
    for (const b of points.slice(i + 1)) {
      const n = cross(a, b);
      // Two of one chromaticity span nothing.
      if (size(n) > FLAT * size(a) * size(b)) normals.push(n);
    }
  });
  const isFlat = points.every(p => normals.every(n => Math.abs(dot(n, p)) <= FLAT * scale ** 3));
  const bounds = isFlat ? flatNormals(points, normals, ray) : normals;
  let most = Number.POSITIVE_INFINITY;
  for (const n of bounds) {
    const along = dot(n, ray);
    if (Math.abs(along) <= FLAT * size(n) * size(ray)) continue;
    // The one of both signs on whose side the colour lies.
    const sign = Math.sign(along);
    let support = 0;
    for (const p of points) support += Math.max(0, sign * dot(n, p));
    most = Math.min(most, support / Math.abs(along));
  }
  return Number.isFinite(most) ? most : 0;
}

/** Of two emitters, or several on one line: what they make is flat, and its edges are spanned by one of them. */
function flatNormals(points: readonly Vector[], normals: readonly Vector[], ray: Vector): Vector[] {
  const plane = normals.reduce((best, n) => (size(n) > size(best) ? n : best), [0, 0, 0] as Vector);
  // All of one chromaticity: whatever crosses the line.
  if (normals.length === 0) return [ray];
  return points.map(p => cross(plane, p));
}

function vectorOf({ X, Y, Z }: Xyz): Vector {
  return [X, Y, Z];
}

function size(a: Vector): number {
  return Math.sqrt(dot(a, a));
}
