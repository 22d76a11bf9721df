import type { EngineView } from '../engine/view.js';
import type { Verdict } from '../tracking/sighting.js';

/** What the tracker made of one report, and why: an `explain` record, or a line of JSON or CSV. */
export interface Explained {
  /** When it arrived and when it was measured, monotonic seconds; and the former since 1970. */
  readonly arrivalS: number;
  readonly timeS: number;
  readonly unixS: number;
  readonly performer: string;
  readonly tracker: string;
  /** As reported, stage frame, metres. */
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly quality: number;
  readonly verdict: Verdict;
  /** From where it was expected to where it was, across the floor, and the variance along one axis. */
  readonly innovationM: number;
  readonly varianceM2: number;
  /** Test ratio: normalised innovation squared; with 2 degrees of freedom, 2 on average. */
  readonly nis: number;
  /** Association probability: that it was no outlier. */
  readonly association: number;
  /** Probability of each motion regime after it, by name. */
  readonly regimes: Readonly<Record<string, number>>;
}

/** Calls `tell` for each report that a track of this engine is given from now on. */
export function explainReports(
  view: EngineView,
  unixOffsetS: () => number,
  tell: (explained: Explained) => void,
): void {
  view.onReport((index, tracker, report, verdict) => {
    const performer = view.performers[index];
    if (performer === undefined) return;
    const { innovationM, varianceM2, nis, association } = performer.lastReport;
    const { arrivalS, timeS, x, y, z, quality } = report;
    tell({
      arrivalS,
      timeS,
      unixS: arrivalS + unixOffsetS(),
      performer: performer.name,
      tracker,
      x,
      y,
      z,
      quality,
      verdict,
      innovationM,
      varianceM2,
      nis,
      association,
      regimes: performer.regimes,
    });
  });
}

const COLUMNS = [
  'unixS',
  'arrivalS',
  'timeS',
  'performer',
  'tracker',
  'x',
  'y',
  'z',
  'quality',
  'verdict',
  'innovationM',
  'varianceM2',
  'nis',
  'association',
] as const;

export function explainedHead(regimes: readonly string[]): string {
  return [...COLUMNS, ...regimes.map(name => `regime ${name}`)].join(',');
}

export function explainedLine(explained: Explained): string {
  const cells = COLUMNS.map(column => {
    const value = explained[column];
    return typeof value === 'number' ? String(value) : quoted(value);
  });
  return [...cells, ...Object.values(explained.regimes)].join(',');
}

/** RFC 4180. */
function quoted(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
