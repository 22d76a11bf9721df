import { type Uv, uvOf, type Xy, xyOfUv } from './chromaticity.js';

/** Chromaticities nearer than this in u'v' are the same: a hundredth of what anybody sees. */
const SAME = 1e-5;

/** What lights of some chromaticities can make together. */
export interface Gamut {
  /** Corners of their convex hull in u'v', anticlockwise; two for a line, one for a point. */
  readonly corners: readonly Uv[];
}

/** Expects at least one chromaticity. */
export function gamutOf(lights: readonly Xy[]): Gamut {
  const points = lights.map(uvOf).sort((a, b) => a.u - b.u || a.v - b.v);
  // Andrew's monotone chain; points on an edge, or nearer to it than `SAME`, are no corners.
  const half = (all: readonly Uv[]): Uv[] => {
    const chain: Uv[] = [];
    for (const point of all) {
      while (chain.length > 1 && !isLeft(chain.at(-2) as Uv, chain.at(-1) as Uv, point))
        chain.pop();
      chain.push(point);
    }
    return chain;
  };
  const [lower, upper] = [half(points), half([...points].reverse())];
  const corners = [...lower.slice(0, -1), ...upper.slice(0, -1)];
  const apart = corners.filter((one, i) => corners.findIndex(two => near(one, two)) === i);
  return { corners: apart.length === 0 ? points.slice(0, 1) : apart };
}

/**
 * The chromaticity itself where it is in gamut, else the nearest that is: nearest in u'v'. It changes continuously with
 * what is asked, as the hull is convex.
 * @returns how far that is from what was asked, in u'v'; 0 within the gamut
 */
export function nearestIn(
  { corners }: Gamut,
  wanted: Xy,
): { readonly xy: Xy; readonly off: number } {
  const point = uvOf(wanted);
  const isInside =
    corners.length > 2 &&
    corners.every((a, i) => across(a, corners[(i + 1) % corners.length] as Uv, point) >= 0);
  if (isInside) return { xy: wanted, off: 0 };
  let best = corners[0] as Uv;
  let least = Number.POSITIVE_INFINITY;
  corners.forEach((a, i) => {
    const foot = nearestOn(a, corners[(i + 1) % corners.length] as Uv, point);
    const distance = Math.hypot(foot.u - point.u, foot.v - point.v);
    if (distance >= least) return;
    best = foot;
    least = distance;
  });
  return { xy: xyOfUv(best), off: least };
}

function nearestOn(a: Uv, b: Uv, { u, v }: Uv): Uv {
  const [du, dv] = [b.u - a.u, b.v - a.v];
  const length2 = du * du + dv * dv;
  const along = length2 === 0 ? 0 : ((u - a.u) * du + (v - a.v) * dv) / length2;
  const t = Math.min(1, Math.max(0, along));
  return { u: a.u + t * du, v: a.v + t * dv };
}

/** Whether c lies to the left of the line from a to b by more than what is the same. */
function isLeft(a: Uv, b: Uv, c: Uv): boolean {
  return across(a, b, c) > SAME * Math.hypot(b.u - a.u, b.v - a.v);
}

function across(a: Uv, b: Uv, c: Uv): number {
  return (b.u - a.u) * (c.v - a.v) - (b.v - a.v) * (c.u - a.u);
}

function near(a: Uv, b: Uv): boolean {
  return Math.hypot(a.u - b.u, a.v - b.v) < SAME;
}
