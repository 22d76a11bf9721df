import { vec3 } from '../../stage/vector.js';
import { type Truth, truthAt } from '../sensors/truth.js';

/** Farther apart in time than this nobody takes two paths for one. */
const FARTHEST_S = 0.6;
const STEP_S = 0.02;
/** A distance above this is an outlier's or a jump's: it counts no more than this, metres. */
const MOST_M = 1;
/** So short a way tells no time, metres. */
const LEAST_WAY_M = 1;

/** Places at rising times; see `Truth`. */
export type Series = Truth;

/**
 * By how much the places of one or more series come after those of their truth, seconds: the shift in time
 * at which they agree best, the mean distance being least (outliers count as 1 m; between steps by a
 * parabola). Whatever pulls a place backwards along the way, as a body's shadow does, shows as such a delay
 * too: no more can be told from places. NaN where there was too little movement, or no best shift
 * within 0.6 s.
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

/** As the truth goes from half second to half second: the tremor of a motion capture is no way. */
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
