import { createEngine, type Engine } from '../../engine/engine.js';
import { absorb, step } from '../../engine/step.js';
import type { TickInputs } from '../../engine/values/inputs.js';
import { type EngineView, type ReportListener, viewOf } from '../../engine/view.js';
import type { Condition } from '../../safety/watchdog-table.js';
import type { Show } from '../../show/model/model.js';
import { observe } from '../../tracking/observe.js';
import { PLAIN_FIT, type TrackerFit, type TrackingOptions } from '../../tracking/options.js';
import { predict } from '../../tracking/predict.js';
import { createEstimate, type Sighting, type Verdict } from '../../tracking/sighting.js';
import { createTrack } from '../../tracking/track.js';
import { TICK_S } from '../assessing/assess.js';

/** What an engine was given at one moment of a recording; inputs are numbered as in the show that is tuned. */
export interface Intake extends TickInputs {
  readonly type: 'absorb' | 'tick';
  readonly nowS: number;
}

/** Plays a recording from its beginning; it can be called again. */
export type Feed = (taker: FeedTaker) => void;

export interface FeedTaker {
  /** A new engine begins: at the start, and after each restart in the recording. */
  began(): void;
  intake(intake: Intake): void;
}

/** A report as an engine placed it, and what its track made of it. */
export interface HeardReport extends Sighting {
  readonly verdict: Verdict;
  /** Number of the run that heard it: another recording, or another start of the engine. Between runs nobody listened. */
  readonly take: number;
}

/** Where the light was aimed at each tick: time of the tick, seconds; x and y of the stage frame, metres. */
export interface Aims {
  readonly nowS: number[];
  readonly xs: number[];
  readonly ys: number[];
  /** Whether the light followed them. */
  readonly follows: boolean[];
}

export interface Loss {
  readonly atS: number;
  readonly cause: Condition | undefined;
}

/** One performer through a recording. The engine's runs are put one after the other, `APART_S` apart. */
export interface PerformerFeed {
  readonly name: string;
  readonly label: string;
  /** Their trackers, in the order in which reports name them. */
  readonly trackers: string[];
  readonly fits: TrackerFit[];
  readonly reports: HeardReport[];
  readonly aims: Aims;
  readonly losses: Loss[];
  gated: number;
  jumps: number;
}

/** A stamped input: arrival minus stamp of the fastest reports of each few seconds, by the two machines' clocks, seconds. */
export interface Transit {
  readonly input: string;
  leastS: number;
  mostS: number;
}

export interface HeardFeed {
  readonly performers: readonly PerformerFeed[];
  readonly transits: readonly Transit[];
  readonly lengthS: number;
  /** How many reports reached nobody's track, by reason. */
  readonly leftOut: Readonly<Record<string, number>>;
  /** The recording is longer than can be judged at once: what comes after `lengthS` is left out. */
  readonly isCut: boolean;
}

/** Some 1.5 kB each: enough for half an hour of ten performers at 30 Hz, or two hours of two. */
const MOST_REPORTS = 600_000;
/** Longer than a track remembers, so that it begins anew; and more than a block of the bootstrap. */
const APART_S = 10;

/**
 * Plays a recording to a show, and keeps what tuning judges.
 * @param mostReports the rest is left out; reports are counted before any setting acts, so the cut is always the same
 */
export function heardOf(show: Show, feed: Feed, mostReports = MOST_REPORTS): HeardFeed {
  const performers = show.performers.map(
    ({ name, label }): PerformerFeed => ({
      name,
      label,
      trackers: [],
      fits: [],
      reports: [],
      aims: { nowS: [], xs: [], ys: [], follows: [] },
      losses: [],
      gated: 0,
      jumps: 0,
    }),
  );
  const transits = show.inputs.flatMap(({ name, isStamped }, index) =>
    isStamped
      ? [{ index, input: name, leastS: Number.POSITIVE_INFINITY, mostS: Number.NEGATIVE_INFINITY }]
      : [],
  );
  const views: EngineView[] = [];
  let engine: { readonly state: Engine; readonly view: EngineView } | undefined;
  let [shiftS, lastS, lengthS] = [0, 0, 0];
  let startsAnew = true;
  let isCut = false;
  feed({
    began: () => {
      const state = createEngine(show);
      engine = { state, view: viewOf(state) };
      const take = views.push(engine.view);
      engine.view.onReport(noting(show, performers, take, () => shiftS));
      startsAnew = true;
    },
    intake: ({ type, nowS, ...inputs }) => {
      if (engine === undefined) return;
      isCut ||= performers.reduce((sum, { reports }) => sum + reports.length, 0) >= mostReports;
      if (isCut) return;
      const { state, view } = engine;
      if (startsAnew) shiftS = lastS + APART_S - nowS;
      else lengthS += nowS + shiftS - lastS;
      startsAnew = false;
      lastS = nowS + shiftS;
      if (type === 'absorb') {
        absorb(state, inputs, nowS);
        return;
      }
      const { events } = step(state, inputs, nowS);
      for (const event of events) {
        if (event.kind !== 'performer' || event.to !== 'losing') continue;
        performers
          .find(({ name }) => name === event.performer)
          ?.losses.push({ atS: lastS, cause: event.cause });
      }
      noteAims(view, performers, lastS);
      for (const transit of transits) {
        const offsetS = view.inputs[transit.index]?.clockOffsetS ?? Number.NaN;
        if (Number.isNaN(offsetS)) continue;
        transit.leastS = Math.min(transit.leastS, offsetS + inputs.unixOffsetS);
        transit.mostS = Math.max(transit.mostS, offsetS + inputs.unixOffsetS);
      }
    },
  });
  return {
    performers,
    transits: transits
      .filter(({ leastS }) => Number.isFinite(leastS))
      .map(({ input, leastS, mostS }) => ({ input, leastS, mostS })),
    lengthS,
    leftOut: leftOutOf(views),
    isCut,
  };
}

function leftOutOf(views: readonly EngineView[]): Record<string, number> {
  const sums: Record<string, number> = {};
  for (const { counters } of views) {
    const { drops, spares, invalid } = counters;
    for (const [reason, count] of Object.entries({ ...drops, spares, invalid })) {
      if (count > 0) sums[reason] = (sums[reason] ?? 0) + count;
    }
  }
  return sums;
}

function noting(
  show: Show,
  performers: readonly PerformerFeed[],
  take: number,
  shift: () => number,
): ReportListener {
  const plans = [...show.performers.flatMap(({ trackers }) => trackers), ...show.spares];
  const fits = new Map(plans.map(({ id, fit }) => [id, fit]));
  return (performer, id, report, verdict) => {
    const heard = performers[performer];
    if (heard === undefined) return;
    let tracker = heard.trackers.indexOf(id);
    if (tracker < 0) {
      tracker = heard.trackers.push(id) - 1;
      heard.fits.push(fits.get(id) ?? PLAIN_FIT);
    }
    const shiftS = shift();
    const timeS = report.timeS + shiftS;
    const arrivalS = report.arrivalS + shiftS;
    heard.reports.push({ ...report, tracker, timeS, arrivalS, verdict, take });
    if (verdict === 'gated' || verdict === 'frozen') heard.gated += 1;
    if (verdict === 'reacquired') heard.jumps += 1;
  };
}

function noteAims(view: EngineView, performers: readonly PerformerFeed[], nowS: number): void {
  view.performers.forEach(({ seen, estimate, follows }, i) => {
    if (!seen) return;
    const aims = performers[i]?.aims;
    aims?.nowS.push(nowS);
    aims?.xs.push(estimate.x);
    aims?.ys.push(estimate.y);
    aims?.follows.push(follows);
  });
}

/** Aims are judged up to this long after the last report, seconds; later ones are guesses. */
const SILENT_S = 3;

/** Only the aims, with other options, without an engine: some ten times as fast. */
export function aimsWith(
  { reports, fits }: Pick<PerformerFeed, 'reports' | 'fits'>,
  options: TrackingOptions,
  horizonS: number,
): Aims {
  const aims: Aims = { nowS: [], xs: [], ys: [], follows: [] };
  const track = createTrack(options, fits.length, fits);
  const estimate = createEstimate();
  for (let next = 0; next < reports.length; ) {
    let nowS = reports[next]?.arrivalS ?? Number.NaN;
    const nextS = () => reports[next]?.arrivalS ?? Number.POSITIVE_INFINITY;
    let heardS = nowS;
    for (; nextS() <= nowS || nowS - heardS < SILENT_S; nowS += TICK_S) {
      for (; nextS() <= nowS; next++) {
        observe(track, reports[next] as HeardReport);
        heardS = nowS;
      }
      if (!predict(track, nowS + horizonS, estimate, nowS)) continue;
      aims.nowS.push(nowS);
      aims.xs.push(estimate.x);
      aims.ys.push(estimate.y);
      aims.follows.push(true);
    }
  }
  return aims;
}
