import { vec3 } from '../../stage/vector.js';
import { type Truth, truthAt } from '../sensors/truth.js';

/** Shifts in time up to this are tried, seconds. */
const FARTHEST_S = 0.6;
const STEP_S = 0.02;
/** A larger distance is an outlier or a jump, and counts as this, metres. */
const MOST_M = 1;
/** Over a shorter way no lag can be found, metres. */
const LEAST_WAY_M = 1;

/** Places at rising times; see `Truth`. */
export type Series = Truth;

/**
 * How far one or more series lag behind their truth, seconds: the shift in time at which their mean
 * distance is least (outliers count as 1 m; a parabola interpolates between steps). Whatever pulls a place
 * backwards along the way, as a body's shadow does, looks like a delay too: places alone can't tell the two
 * apart. NaN if there was too little movement, or no least distance within 0.6 s.
 */
export function delayOf(pairs: readonly { series: Series; truth: Truth }[]): number {
  if (pairs.reduce((sum, { truth }) => sum + wayOf(truth), 0) < LEAST_WAY_M) return Number.NaN;
  const steps = Math.round(FARTHEST_S / STEP_S);
  const distances = Array.from({ length: 2 * steps + 1 }, (_, i) =>
    distanceAt(pairs, (i - steps) * STEP_S),
  );
  let best = 0;
  distances.forEach((value, i) => {
    if (value < (distances[best] as number)) best = i;
  });
  const [before, here, after] = [distances[best - 1], distances[best], distances[best + 1]];
  if (before === undefined || here === undefined || after === undefined) return Number.NaN;
  const bend = before - 2 * here + after;
  const between = bend > 0 ? (before - after) / (2 * bend) : 0;
  return (best - steps + between) * STEP_S;
}

function distanceAt(pairs: readonly { series: Series; truth: Truth }[], shiftS: number): number {
  let sum = 0;
  const truly = vec3(0, 0, 0);
  for (const { series, truth } of pairs) {
    const { timesS, xs, ys } = series;
    const [firstS, lastS] = [truth.timesS[0] as number, truth.timesS.at(-1) as number];
    let hint = 0;
    for (let i = 0; i < timesS.length; i++) {
      const timeS = timesS[i] as number;
      // The same for all shifts, so that they are compared over the same moments.
      if (timeS - FARTHEST_S < firstS || timeS + FARTHEST_S > lastS) continue;
      hint = truthAt(truth, timeS - shiftS, hint, truly);
      const [dx, dy] = [(xs[i] as number) - truly.x, (ys[i] as number) - truly.y];
      sum += Math.min(MOST_M, Math.sqrt(dx * dx + dy * dy));
    }
  }
  return sum;
}

/** Length of the way, metres, in steps of half a second: the tremor of a motion capture must not add to it. */
function wayOf(truth: Truth): number {
  let [way, last] = [0, 0];
  for (let i = 1; i < truth.timesS.length; i++) {
    if ((truth.timesS[i] as number) - (truth.timesS[last] as number) < 0.5) continue;
    const dx = (truth.xs[i] as number) - (truth.xs[last] as number);
    way += Math.hypot(dx, (truth.ys[i] as number) - (truth.ys[last] as number));
    last = i;
  }
  return way;
}
