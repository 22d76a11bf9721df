import { drawnInterval, type Interval } from '../assessing/bootstrap.js';
import { type Smoothed, smooth } from '../assessing/smoother.js';
import type { HeardReport, PerformerFeed } from './tune-feed.js';
import { FACING_MPS, REFERENCE, seriesOf } from './tune-judge.js';

/** What a recording tells of one tracker. */
export interface TrackerFacts {
  readonly tracker: string;
  readonly performer: string;
  readonly reports: number;
  readonly rateHz: number;
  /** How far its reports scatter along one axis, metres; NaN where there were too few. */
  readonly noiseM: number;
  /** The noise that the show has for this tracker, as a share of the show's general noise. */
  readonly noiseShare: number;
  /** Share of its reports that the smoother leaves out. */
  readonly offShare: number;
  readonly longestSilenceS: number;
  /** The longest time in which it repeated itself to the last bit, and then went on from there, seconds. */
  readonly longestRepeatS: number;
  /** How often it repeated itself for more than a second and then went on from elsewhere; the longest such time, seconds. */
  readonly hangs: number;
  readonly longestHangS: number;
}

/** Fewer reports don't show how far they scatter. */
const FEWEST_REPORTS = 100;
/** Median length across the floor over the standard deviation of one axis (Rayleigh distribution): sqrt(2 ln 2). */
const RAYLEIGH_MEDIAN = Math.sqrt(2 * Math.log(2));
/** Standard deviation of z0 - 2 z1 + z2 for white noise of deviation 1. */
const SECOND_DIFFERENCE = Math.sqrt(6);
/** Reports farther apart aren't used: a body's own turns and stops would look like noise, seconds. */
const LONGEST_INTERVAL_S = 0.15;
/** A report with a smaller weight is an outlier; a usual one has about 1. */
const OFF_WEIGHT = 0.3;
/** A longer pause doesn't count for the rate, and ends a run of repeated reports, seconds. */
const PAUSE_S = 10;
const SMALL_STEP_M = 0.1;

/** One tracker of a performer: its reports in the order of their times, and its smoothed path. */
export interface TrackerPath {
  readonly tracker: string;
  readonly noiseShare: number;
  readonly reports: readonly HeardReport[];
  readonly smoothed: Smoothed;
}

export function trackerPaths({
  trackers,
  fits,
  reports,
}: Pick<PerformerFeed, 'trackers' | 'fits' | 'reports'>): TrackerPath[] {
  return trackers.map((tracker, index): TrackerPath => {
    const own = reports
      .filter(report => report.tracker === index)
      .sort((a, b) => a.timeS - b.timeS);
    return {
      tracker,
      noiseShare: fits[index]?.noiseShare ?? 1,
      reports: own,
      smoothed: smooth(seriesOf(own), REFERENCE),
    };
  });
}

export function trackerFacts(
  performer: string,
  { tracker, noiseShare, reports, smoothed }: TrackerPath,
): TrackerFacts {
  const silences = reports.slice(1).flatMap((report, i) => {
    const before = reports[i] as HeardReport;
    return report.take === before.take ? [report.timeS - before.timeS] : [];
  });
  const intervals = silences.filter(intervalS => intervalS < PAUSE_S);
  const off = smoothed.weights.filter(weight => weight < OFF_WEIGHT).length;
  return {
    tracker,
    performer,
    reports: reports.length,
    rateHz: intervals.length / intervals.reduce((a, b) => a + b, 0),
    noiseM: noiseOf(reports, smoothed),
    noiseShare,
    offShare: off / reports.length,
    longestSilenceS: silences.reduce((a, b) => Math.max(a, b), 0),
    ...repeatsOf(reports),
  };
}

/**
 * Noise of a tracker along one axis, metres: the larger of what is new in each report (the median length of second
 * differences, which cancel place and velocity) and of the scatter about the smoothed path. Medians, so that outliers
 * count for little.
 */
function noiseOf(reports: readonly HeardReport[], smoothed: Smoothed): number {
  if (reports.length < FEWEST_REPORTS) return Number.NaN;
  const seconds: number[] = [];
  for (let i = 2; i < reports.length; i++) {
    const [a, b, c] = [reports[i - 2], reports[i - 1], reports[i]] as [
      HeardReport,
      HeardReport,
      HeardReport,
    ];
    if (c.timeS - b.timeS > LONGEST_INTERVAL_S || b.timeS - a.timeS > LONGEST_INTERVAL_S) continue;
    seconds.push(Math.hypot(a.x - 2 * b.x + c.x, a.y - 2 * b.y + c.y));
  }
  const about = reports.map(({ x, y }, i) =>
    Math.hypot(x - (smoothed.xs[i] as number), y - (smoothed.ys[i] as number)),
  );
  const white = medianOf(seconds) / (SECOND_DIFFERENCE * RAYLEIGH_MEDIAN);
  const round = medianOf(about) / RAYLEIGH_MEDIAN;
  return Math.max(Number.isNaN(white) ? 0 : white, round);
}

function medianOf(values: readonly number[]): number {
  return Float64Array.from(values).sort()[Math.floor(values.length / 2)] ?? Number.NaN;
}

function repeatsOf(reports: readonly HeardReport[]) {
  let [longestRepeatS, hangs, longestHangS] = [0, 0, 0];
  let first = reports[0];
  for (let i = 1; i < reports.length; i++) {
    const [last, now] = [reports[i - 1], reports[i]] as [HeardReport, HeardReport];
    const stepM = Math.hypot(now.x - last.x, now.y - last.y);
    const isOneTake = now.take === last.take && now.timeS - last.timeS < PAUSE_S;
    if (stepM === 0 && now.z === last.z && isOneTake) continue;
    const runS = last.timeS - (first as HeardReport).timeS;
    if (stepM <= SMALL_STEP_M) longestRepeatS = Math.max(longestRepeatS, runS);
    else if (runS > 1) {
      hangs += 1;
      longestHangS = Math.max(longestHangS, runS);
    }
    first = now;
  }
  return { longestRepeatS, hangs, longestHangS };
}

/** Where a tracker sits relative to the performer's first one, and how late it is, while they walk. */
export interface TwinFacts {
  readonly performer: string;
  readonly first: string;
  readonly second: string;
  /** From the first to the second, in the frame of the body, metres; the intervals are NaN if it can't be told. */
  readonly forwardM: Measured;
  readonly leftM: Measured;
  readonly upM: Measured;
  /** How far the second lags behind the first, seconds. */
  readonly lagS: Measured;
}

export interface Measured extends Interval {
  readonly value: number;
}

/** Sums over the moments of a block in which they walk: s speed (m/s); a distance ahead, l to the left, u up (metres). */
interface Sums {
  n: number;
  s: number;
  ss: number;
  a: number;
  as: number;
  l: number;
  u: number;
}

const EVERY_S = 0.1;
const BLOCK_S = 5;
/**
 * Least standard deviation of the speeds. At a single speed, a tracker worn behind and one that is late look the
 * same; what differences remain come from turns, in which a body faces elsewhere. The trolley of the development
 * recordings, with 0.05 m/s, would seem to lag by 0.06 s.
 */
const LEAST_SPREAD_MPS = 0.2;
/** Nothing is compared between two reports farther apart than this, seconds. */
const KNOWN_S = 0.5;

/**
 * Compares trackers on one body: each is smoothed alone, and while they walk the difference is taken in the frame of
 * the body, which faces the way it goes. A tracker worn ahead stays ahead at any speed; a late one falls behind in
 * proportion to the speed: distance = forward - lag * speed, by least squares over all moments.
 */
export function twinFacts(
  performer: string,
  [first, ...others]: readonly TrackerPath[],
): TwinFacts[] {
  if (first === undefined) return [];
  return others.map((second): TwinFacts => {
    const blocks = blocksOf(first.smoothed, second.smoothed);
    const hasSpeeds = fitOf(blocks).spreadMps >= LEAST_SPREAD_MPS;
    const measured = (of: (fit: Fit) => number): Measured => ({
      value: of(fitOf(blocks)),
      ...drawnInterval(hasSpeeds ? blocks : [], drawn => of(fitOf(drawn))),
    });
    return {
      performer,
      first: first.tracker,
      second: second.tracker,
      forwardM: measured(({ forwardM }) => forwardM),
      leftM: measured(({ leftM }) => leftM),
      upM: measured(({ upM }) => upM),
      lagS: measured(({ lagS }) => lagS),
    };
  });
}

interface Fit {
  readonly forwardM: number;
  readonly leftM: number;
  readonly upM: number;
  readonly lagS: number;
  /** Standard deviation of the speeds, metres a second. */
  readonly spreadMps: number;
}

function fitOf(blocks: readonly Sums[]): Fit {
  let [n, s, ss, a, as, l, u] = [0, 0, 0, 0, 0, 0, 0];
  for (const block of blocks) {
    n += block.n;
    s += block.s;
    ss += block.ss;
    a += block.a;
    as += block.as;
    l += block.l;
    u += block.u;
  }
  const slope = (n * as - s * a) / (n * ss - s * s);
  return {
    forwardM: (a - slope * s) / n,
    leftM: l / n,
    upM: u / n,
    lagS: -slope,
    spreadMps: Math.sqrt(Math.max(0, n * ss - s * s)) / n,
  };
}

function blocksOf(first: Smoothed, second: Smoothed): Sums[] {
  const blocks = new Map<number, Sums>();
  const [one, two] = [cursor(first), cursor(second)];
  const fromS = Math.max(first.timesS[0] ?? Infinity, second.timesS[0] ?? Infinity);
  const toS = Math.min(first.timesS.at(-1) ?? -Infinity, second.timesS.at(-1) ?? -Infinity);
  for (let n = 0; fromS + n * EVERY_S <= toS; n++) {
    const atS = fromS + n * EVERY_S;
    const [p, q] = [one(atS), two(atS)];
    if (p === undefined || q === undefined) continue;
    const [vx, vy] = [(p.vx + q.vx) / 2, (p.vy + q.vy) / 2];
    const s = Math.hypot(vx, vy);
    if (s < FACING_MPS) continue;
    const [dx, dy] = [q.x - p.x, q.y - p.y];
    const a = (dx * vx + dy * vy) / s;
    const at = Math.floor((atS - fromS) / BLOCK_S);
    const sums = blocks.get(at) ?? { n: 0, s: 0, ss: 0, a: 0, as: 0, l: 0, u: 0 };
    blocks.set(at, sums);
    sums.n += 1;
    sums.s += s;
    sums.ss += s * s;
    sums.a += a;
    sums.as += a * s;
    sums.l += (dy * vx - dx * vy) / s;
    sums.u += q.z - p.z;
  }
  return [...blocks.values()];
}

function cursor({ timesS, xs, ys, zs, vxs, vys }: Smoothed) {
  let i = 0;
  return (atS: number) => {
    while (i < timesS.length - 2 && (timesS[i + 1] as number) <= atS) i++;
    const [fromS, toS] = [timesS[i] as number, timesS[i + 1] as number];
    if (!(toS - fromS < KNOWN_S) || atS < fromS || atS > toS) return undefined;
    const share = toS > fromS ? (atS - fromS) / (toS - fromS) : 0;
    const at = (values: Float64Array) =>
      (values[i] as number) + share * ((values[i + 1] as number) - (values[i] as number));
    return { x: at(xs), y: at(ys), z: at(zs), vx: at(vxs), vy: at(vys) };
  };
}
