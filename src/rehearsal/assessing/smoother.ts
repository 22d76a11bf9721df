import type { Truth } from '../sensors/truth.js';
import {
  type Covariance,
  type ProcessNoise,
  predictCovariance,
  updateCovariance,
  whiteAcceleration,
} from './kalman.js';

/** Reports at rising times (equal ones allowed), metres; see `Truth`. */
export type Series = Truth;

export interface SmootherOptions {
  /** q of the white acceleration, m²/s³. */
  readonly accelerationDensity: number;
  /** Standard deviation of a report along one axis, metres. */
  readonly noiseM: number;
  /** How often the reports are weighted anew, so that outliers lose their weight; 0: the plain smoother. */
  readonly rounds: number;
}

/** The smoothed path at the times of the reports. */
export interface Smoothed extends Series {
  readonly vxs: Float64Array;
  readonly vys: Float64Array;
  /** Variance along one axis, m². */
  readonly variances: Float64Array;
  /** Weight of each report: about 1, nearly 0 for an outlier. */
  readonly weights: Float64Array;
}

/** Degrees of freedom of Student's t distribution, the model for reports from behind bodies. Common practice. */
const TAIL = 4;
const HALF_WINDOW_S = 1;
/** How far a walker who turns or stops may be off the median of two seconds, metres. Common practice. */
const MEDIAN_NOISE_M = 0.5;
/** Before the first report: anywhere on a stage, as fast as a runner. */
const BEGIN: Readonly<Covariance> = { p11: 1e4, p12: 0, p22: 9 };

/**
 * Where somebody was, computed afterwards from all reports, the later ones included: the
 * Rauch-Tung-Striebel smoother over the Kalman filter of kalman.ts,
 *
 *   C = P F' (P-)^-1        x_s = x + C (x_s+ - x-)        P_s = P + C (P_s+ - P-) C'
 *
 * with x, P after the report, x-, P- predicted to the next one, and x_s+, P_s+ smoothed there (Rauch, Tung and
 * Striebel, AIAA Journal 3:1445, 1965; Särkkä, Bayesian Filtering and Smoothing, 2013, section 8.2; from memory).
 *
 * Outliers: reports are modelled by Student's t distribution, and each round weights them anew by how far off
 * they are across the floor, w = (nu + 2) / (nu + d² / R) (expectation and maximisation for the t
 * distribution of two dimensions; Lange, Little and Taylor, JASA 84:881, 1989; from memory). A burst would pull
 * the plain smoother towards it and then look right; so the first weights compare with the median of two seconds.
 */
export function smooth(series: Series, { rounds, ...model }: SmootherOptions): Smoothed {
  const count = series.timesS.length;
  const weights = new Float64Array(count).fill(1);
  if (rounds === 0) return pass(series, model, weights);
  const middles = {
    xs: runningMedian(series.timesS, series.xs),
    ys: runningMedian(series.timesS, series.ys),
  };
  weigh(series, middles, MEDIAN_NOISE_M ** 2, weights);
  let smoothed = pass(series, model, weights);
  for (let round = 1; round < rounds; round++) {
    weigh(series, smoothed, model.noiseM ** 2, weights);
    smoothed = pass(series, model, weights);
  }
  return smoothed;
}

function weigh(
  series: Series,
  path: Pick<Series, 'xs' | 'ys'>,
  variance: number,
  weights: Float64Array,
): void {
  for (let i = 0; i < weights.length; i++) {
    const dx = (series.xs[i] as number) - (path.xs[i] as number);
    const dy = (series.ys[i] as number) - (path.ys[i] as number);
    weights[i] = (TAIL + 2) / (TAIL + (dx * dx + dy * dy) / variance);
  }
}

/** The median of all values within a second before and after; on a straight, steady walk it is the place itself. */
function runningMedian(timesS: Float64Array, values: Float64Array): Float64Array {
  let [from, to] = [0, 0];
  return timesS.map(timeS => {
    while ((timesS[from] as number) < timeS - HALF_WINDOW_S) from++;
    while (to < timesS.length && (timesS[to] as number) <= timeS + HALF_WINDOW_S) to++;
    const sorted = values.slice(from, to).sort();
    const middle = (sorted.length - 1) / 2;
    return ((sorted[Math.floor(middle)] as number) + (sorted[Math.ceil(middle)] as number)) / 2;
  });
}

function pass(
  { timesS, xs, ys, zs }: Series,
  { accelerationDensity, noiseM }: Omit<SmootherOptions, 'rounds'>,
  weights: Float64Array,
): Smoothed {
  const count = timesS.length;
  // One row for each report: P after it (11, 12, 22), and P predicted to it.
  const after = new Float64Array(3 * count);
  const before = new Float64Array(3 * count);
  const p = { ...BEGIN };
  const added: ProcessNoise = { q11: 0, q12: 0, q22: 0 };
  const gain = { k1: 0, k2: 0 };
  const axes = [xs, ys, zs].map(values => ({
    values,
    place: Float64Array.from(values),
    speed: new Float64Array(count),
  }));
  for (let i = 0; i < count; i++) {
    const intervalS = i === 0 ? 0 : (timesS[i] as number) - (timesS[i - 1] as number);
    if (i > 0) {
      predictCovariance(p, intervalS, whiteAcceleration(accelerationDensity, intervalS, added));
    }
    before.set([p.p11, p.p12, p.p22], 3 * i);
    updateCovariance(p, noiseM ** 2 / (weights[i] as number), gain);
    after.set([p.p11, p.p12, p.p22], 3 * i);
    for (const { values, place, speed } of axes) {
      const v = i === 0 ? 0 : (speed[i - 1] as number);
      const x = i === 0 ? (values[0] as number) : (place[i - 1] as number) + intervalS * v;
      const innovation = (values[i] as number) - x;
      place[i] = x + gain.k1 * innovation;
      speed[i] = v + gain.k2 * innovation;
    }
  }
  const variances = new Float64Array(count);
  let [s11, s12, s22] = [p.p11, p.p12, p.p22];
  if (count > 0) variances[count - 1] = s11;
  for (let i = count - 2; i >= 0; i--) {
    const intervalS = (timesS[i + 1] as number) - (timesS[i] as number);
    const [a11, a12, a22] = after.subarray(3 * i, 3 * i + 3) as unknown as [number, number, number];
    const [b11, b12, b22] = before.subarray(3 * i + 3, 3 * i + 6) as unknown as [
      number,
      number,
      number,
    ];
    // P F', then times the inverse of P-.
    const [f11, f12, f21, f22] = [a11 + intervalS * a12, a12, a12 + intervalS * a22, a22];
    const det = b11 * b22 - b12 * b12;
    const c11 = (f11 * b22 - f12 * b12) / det;
    const c12 = (f12 * b11 - f11 * b12) / det;
    const c21 = (f21 * b22 - f22 * b12) / det;
    const c22 = (f22 * b11 - f21 * b12) / det;
    for (const { place, speed } of axes) {
      const dx =
        (place[i + 1] as number) - ((place[i] as number) + intervalS * (speed[i] as number));
      const dv = (speed[i + 1] as number) - (speed[i] as number);
      place[i] = (place[i] as number) + c11 * dx + c12 * dv;
      speed[i] = (speed[i] as number) + c21 * dx + c22 * dv;
    }
    const [d11, d12, d22] = [s11 - b11, s12 - b12, s22 - b22];
    s11 = a11 + c11 * (c11 * d11 + c12 * d12) + c12 * (c11 * d12 + c12 * d22);
    s12 = a12 + c21 * (c11 * d11 + c12 * d12) + c22 * (c11 * d12 + c12 * d22);
    s22 = a22 + c21 * (c21 * d11 + c22 * d12) + c22 * (c21 * d12 + c22 * d22);
    variances[i] = s11;
  }
  const [x, y, z] = axes as unknown as [Axis, Axis, Axis];
  return {
    timesS,
    xs: x.place,
    ys: y.place,
    zs: z.place,
    vxs: x.speed,
    vys: y.speed,
    variances,
    weights: Float64Array.from(weights),
  };
}

interface Axis {
  readonly place: Float64Array;
  readonly speed: Float64Array;
}
