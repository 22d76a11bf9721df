import { distance, type Vec3, vec3 } from '../stage/vector.js';
import { meanOf } from './rigid.js';

/** One report of a tracker that stands on a marker: seconds and metres. */
export interface Report extends Readonly<Vec3> {
  readonly timeS: number;
}

export interface StandingOptions {
  /** How long it should be heard, seconds. */
  readonly seconds: number;
  /** A tracker whose place drifts farther than this has been moved, metres. */
  readonly mostDriftM: number;
}

export interface Standing {
  readonly mean: Readonly<Vec3>;
  readonly reports: number;
  /** Reports too far from the others to be believed, left out of the mean. */
  readonly outliers: number;
  /** From the first report to the last, seconds. */
  readonly spanS: number;
  readonly longestGapS: number;
  /** Standard deviation of single reports across the floor and in height, metres. */
  readonly spreadHorizontalM: number;
  readonly spreadVerticalM: number;
  /** Distance between the medians of the first and the last third, metres. */
  readonly driftM: number;
  /** Standard error of one axis of the mean, metres, from the scatter of the means of stretches. */
  readonly errorM: number;
}

export type StandingFault =
  | { readonly kind: 'none' }
  | { readonly kind: 'few'; readonly reports: number; readonly needed: number }
  | { readonly kind: 'short'; readonly spanS: number; readonly neededS: number }
  | { readonly kind: 'moved'; readonly driftM: number; readonly mostM: number };

export type StandingResult =
  | { readonly ok: true; readonly standing: Standing }
  | { readonly ok: false; readonly fault: StandingFault };

/** Fewer reports don't show how far they scatter. */
export const FEWEST_REPORTS = 20;
/**
 * Number of stretches whose means are compared. Fewer, longer ones also cover noise with a longer memory; five
 * of 2 s give an error that is a tenth too small for the memory of 0.4 s that radio positions have.
 */
const STRETCHES = 5;
/** Robust deviations from the median beyond which a report is an outlier. */
const OUTLIER_DEVIATIONS = 4;
/** Least spread that is assumed, metres: feeds round to a centimetre at most. */
const LEAST_SPREAD_M = 0.005;
/** Median absolute deviation to standard deviation of a normal distribution: 1 / 0.6745. */
const MAD_TO_DEVIATION = 1.4826;

/**
 * The place of a tracker that stands still: the mean of its reports without outliers (farther than 4
 * robust deviations from the median on any axis). The standard error comes from the means of 5 equal
 * stretches of time ("batch means"), because reports whose noise wanders for a second or two are not
 * independent; it is never below that of white noise.
 */
export function averageStanding(
  all: readonly Report[],
  { seconds, mostDriftM }: StandingOptions,
): StandingResult {
  const reports = [...all].sort((a, b) => a.timeS - b.timeS);
  const [first, last] = [reports[0], reports.at(-1)];
  if (first === undefined || last === undefined) return { ok: false, fault: { kind: 'none' } };
  if (reports.length < FEWEST_REPORTS) {
    return {
      ok: false,
      fault: { kind: 'few', reports: reports.length, needed: FEWEST_REPORTS },
    };
  }
  const spanS = last.timeS - first.timeS;
  const neededS = 0.8 * seconds;
  if (spanS < neededS) return { ok: false, fault: { kind: 'short', spanS, neededS } };

  const third = spanS / 3;
  const early = reports.filter(report => report.timeS - first.timeS <= third);
  const late = reports.filter(report => last.timeS - report.timeS <= third);
  const driftM = distance(medianOf(early), medianOf(late));
  if (driftM > mostDriftM) {
    return { ok: false, fault: { kind: 'moved', driftM, mostM: mostDriftM } };
  }

  const middle = medianOf(reports);
  const limits = (['x', 'y', 'z'] as const).map(axis => {
    const deviations = reports.map(report => Math.abs(report[axis] - middle[axis]));
    return OUTLIER_DEVIATIONS * Math.max(LEAST_SPREAD_M, MAD_TO_DEVIATION * median(deviations));
  });
  const kept = reports.filter(report =>
    (['x', 'y', 'z'] as const).every(
      (axis, i) => Math.abs(report[axis] - middle[axis]) <= (limits[i] ?? 0),
    ),
  );
  const mean = meanOf(kept);
  const variance = vec3(0, 0, 0);
  for (const report of kept) {
    variance.x += (report.x - mean.x) ** 2 / (kept.length - 1);
    variance.y += (report.y - mean.y) ** 2 / (kept.length - 1);
    variance.z += (report.z - mean.z) ** 2 / (kept.length - 1);
  }
  const white = (variance.x + variance.y + variance.z) / 3 / kept.length;
  return {
    ok: true,
    standing: {
      mean,
      reports: reports.length,
      outliers: reports.length - kept.length,
      spanS,
      longestGapS: longestGap(reports),
      spreadHorizontalM: Math.sqrt((variance.x + variance.y) / 2),
      spreadVerticalM: Math.sqrt(variance.z),
      driftM,
      errorM: Math.sqrt(Math.max(white, stretchVariance(kept, mean, first.timeS, spanS))),
    },
  };
}

/** Variance of the mean of one axis, from the scatter of the means of stretches. */
function stretchVariance(
  reports: readonly Report[],
  mean: Readonly<Vec3>,
  fromS: number,
  spanS: number,
): number {
  const stretches: Report[][] = Array.from({ length: STRETCHES }, () => []);
  for (const report of reports) {
    const index = Math.floor((STRETCHES * (report.timeS - fromS)) / spanS);
    stretches[Math.min(STRETCHES - 1, index)]?.push(report);
  }
  const means = stretches.filter(stretch => stretch.length > 0).map(meanOf);
  if (means.length < 3) return 0;
  let sum = 0;
  for (const one of means) sum += distance(one, mean) ** 2 / 3;
  return sum / (means.length - 1) / means.length;
}

function longestGap(reports: readonly Report[]): number {
  let longest = 0;
  for (let i = 1; i < reports.length; i++) {
    longest = Math.max(longest, (reports[i]?.timeS ?? 0) - (reports[i - 1]?.timeS ?? 0));
  }
  return longest;
}

function medianOf(reports: readonly Report[]): Vec3 {
  const along = (axis: 'x' | 'y' | 'z') => median(reports.map(report => report[axis]));
  return vec3(along('x'), along('y'), along('z'));
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  const upper = sorted[half] ?? Number.NaN;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? upper) + upper) / 2;
}
