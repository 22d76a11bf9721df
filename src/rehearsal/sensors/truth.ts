import { type Vec3, vec3 } from '../../stage/vector.js';

/** True positions (stage frame, metres) at rising times (seconds); the four arrays have the same length. */
export interface Truth {
  readonly timesS: Float64Array;
  readonly xs: Float64Array;
  readonly ys: Float64Array;
  readonly zs: Float64Array;
}

/** Linear interpolation at `atS`; clamped to the ends. `hint` is the index to search from; the new one is returned. */
export function truthAt(truth: Truth, atS: number, hint: number, out: Vec3): number {
  const { timesS, xs, ys, zs } = truth;
  const last = timesS.length - 1;
  let i = Math.max(0, Math.min(hint, last - 1));
  while (i > 0 && (timesS[i] as number) > atS) i--;
  while (i < last - 1 && (timesS[i + 1] as number) <= atS) i++;
  const t0 = timesS[i] as number;
  const t1 = timesS[Math.min(last, i + 1)] as number;
  const f = t1 > t0 ? Math.min(1, Math.max(0, (atS - t0) / (t1 - t0))) : 0;
  const j = Math.min(last, i + 1);
  out.x = (xs[i] as number) + f * ((xs[j] as number) - (xs[i] as number));
  out.y = (ys[i] as number) + f * ((ys[j] as number) - (ys[i] as number));
  out.z = (zs[i] as number) + f * ((zs[j] as number) - (zs[i] as number));
  return i;
}

const HALF_SPAN_S = 0.1;

/** Speed across the floor over 0.2 s about `atS`, metres a second. */
export function speedAt(truth: Truth, atS: number, hint: number): number {
  const from = vec3(0, 0, 0);
  const to = vec3(0, 0, 0);
  truthAt(truth, atS - HALF_SPAN_S, hint, from);
  truthAt(truth, atS + HALF_SPAN_S, hint, to);
  return Math.hypot(to.x - from.x, to.y - from.y) / (2 * HALF_SPAN_S);
}
