import type { HeardPosition } from '../calibration/position-reader.js';

/** What was heard of one tracker. Grows with each report. */
export interface Heard {
  readonly timesS: number[];
  /** x, y and z one after the other, in the frame of the tracking system, metres. */
  readonly places: number[];
  /** Sum and least of the quality, where the feed gives one. */
  qualities: number;
  qualitySum: number;
  qualityLeast: number;
  /** Charge that it said to have left in its last report that said so, 0..1. */
  battery: number | undefined;
  /** The last charge that it gave and that is none. */
  batteryOutside: number | undefined;
}

export interface FeedRecord {
  readonly trackers: Map<string, Heard>;
  kept: number;
  /** Reports that were not kept: far more came than a tracking system sends. */
  dropped: number;
  /** Reports that did not say when they were measured. */
  unstamped: number;
  /** What the tracking systems call themselves, and each tracker; of PosiStageNet. */
  readonly systems: Set<string>;
  readonly names: Map<string, string>;
  /** Numbers by OSC, by the name of their signal. */
  readonly numbers: Map<string, HeardNumber>;
  /** When the listening ended, on the clock of the reports, seconds; undefined: with the last of them. */
  endedS: number | undefined;
}

/** What came of a number by OSC. */
export interface HeardNumber {
  count: number;
  firstS: number;
  lastS: number;
  longestGapS: number;
  /** The last one. */
  value: number;
  /** Messages that had no number where the show looks for it. */
  without: number;
}

/** 200 trackers at 100 Hz for a minute and a half; a stranger can't fill the memory. */
const MOST_REPORTS = 2_000_000;
const MOST_TRACKERS = 1024;

export function createFeedRecord(): FeedRecord {
  return {
    trackers: new Map(),
    kept: 0,
    dropped: 0,
    unstamped: 0,
    systems: new Set(),
    names: new Map(),
    numbers: new Map(),
    endedS: undefined,
  };
}

export function noteReport(record: FeedRecord, report: HeardPosition): void {
  let heard = record.trackers.get(report.tracker);
  if (heard === undefined) {
    if (record.trackers.size >= MOST_TRACKERS) {
      record.dropped += 1;
      return;
    }
    heard = {
      timesS: [],
      places: [],
      qualities: 0,
      qualitySum: 0,
      qualityLeast: Number.POSITIVE_INFINITY,
      battery: undefined,
      batteryOutside: undefined,
    };
    record.trackers.set(report.tracker, heard);
  }
  if (record.kept >= MOST_REPORTS) {
    record.dropped += 1;
    return;
  }
  record.kept += 1;
  if (report.isStamped !== true) record.unstamped += 1;
  heard.timesS.push(report.timeS);
  heard.places.push(report.x, report.y, report.z);
  heard.battery = report.battery ?? heard.battery;
  heard.batteryOutside = report.batteryOutside ?? heard.batteryOutside;
  if (report.quality !== undefined) {
    heard.qualities += 1;
    heard.qualitySum += report.quality;
    heard.qualityLeast = Math.min(heard.qualityLeast, report.quality);
  }
}

export function noteSystem({ systems }: FeedRecord, name: string): void {
  if (systems.size < MOST_TRACKERS) systems.add(name);
}

export function noteName({ names }: FeedRecord, tracker: string, name: string): void {
  if (names.size < MOST_TRACKERS || names.has(tracker)) names.set(tracker, name);
}

/** How the reports of a tracker came. Seconds; undefined where too few came to tell. */
export interface Rhythm {
  readonly reports: number;
  readonly intervalS: number | undefined;
  /** 95 % of the intervals differ from the median by no more. */
  readonly jitterS: number | undefined;
  readonly longestGapS: number | undefined;
  /** From the last report to the end of the listening. */
  readonly silentForS: number;
  /** Reports that should have come between the first and the last, and did not. */
  readonly missing: number;
  /** Missing as a share of all that should have come. */
  readonly loss: number;
  /** They come several at a time: then there is no beat to miss, and loss is not told. */
  readonly bunched: boolean;
  readonly quality: { readonly mean: number; readonly least: number } | undefined;
}

/** So many intervals have a median that says something. */
const FEWEST_INTERVALS = 10;
/** Of a report that came late, how much of its lateness is expected of the next to make up for. */
const CARRIED = 0.5;
/** Reports nearer than this share of the mean interval came together; and so many of them make bunches. */
const BUNCH_GAP = 0.25;
const BUNCH_SHARE = 0.3;

/**
 * Rate, jitter and loss of a feed without numbered frames: the median interval is its beat, and where
 * beats passed without a report, reports are missing. One that came late and one that came early after
 * it are no loss: what was too long is taken off the next.
 * @param endedS when the listening ended, on the clock of the reports, seconds
 */
export function rhythmOf(heard: Heard, endedS?: number): Rhythm {
  const silentForS = silenceAtEnd(heard, endedS);
  const reports = heard.timesS.length;
  const quality =
    heard.qualities === 0
      ? undefined
      : { mean: heard.qualitySum / heard.qualities, least: heard.qualityLeast };
  const intervals = heard.timesS.slice(1).map((timeS, i) => timeS - (heard.timesS[i] ?? timeS));
  const sorted = Float64Array.from(intervals).sort();
  const longestGapS = sorted.at(-1);
  const intervalS = sorted[Math.floor(sorted.length / 2)];
  if (intervals.length < FEWEST_INTERVALS || intervalS === undefined || intervalS <= 0) {
    const few = { intervalS: undefined, jitterS: undefined, missing: 0, loss: 0, bunched: false };
    return { reports, ...few, longestGapS, silentForS, quality };
  }
  const mean = ((heard.timesS.at(-1) ?? 0) - (heard.timesS[0] ?? 0)) / intervals.length;
  const near = sorted.filter(one => one < BUNCH_GAP * mean).length;
  if (near >= BUNCH_SHARE * intervals.length) {
    const jitterS = percentile95(intervals.map(one => Math.abs(one - mean)));
    const rest = { jitterS, missing: 0, loss: 0, bunched: true, quality };
    return { reports, intervalS: mean, longestGapS, silentForS, ...rest };
  }
  let missing = 0;
  let carry = 0;
  for (const interval of intervals) {
    const beats = interval / intervalS + carry;
    const whole = Math.max(0, Math.round(beats));
    missing += whole - 1;
    carry = CARRIED * (beats - whole);
  }
  missing = Math.max(0, missing);
  const jitterS = percentile95(intervals.map(one => Math.abs(one - intervalS)));
  const loss = missing / (missing + reports);
  const rest = { missing, loss, bunched: false, quality };
  return { reports, intervalS, jitterS, longestGapS, silentForS, ...rest };
}

/** Seconds in which nothing more came, at the end of the listening. */
export function silenceAtEnd({ timesS }: Heard, endedS: number | undefined): number {
  const lastS = timesS.at(-1);
  return lastS === undefined || endedS === undefined ? 0 : Math.max(0, endedS - lastS);
}

function percentile95(values: readonly number[]): number | undefined {
  const sorted = Float64Array.from(values).sort();
  return sorted[Math.min(sorted.length - 1, Math.ceil(0.95 * sorted.length) - 1)];
}
