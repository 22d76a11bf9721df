import type { Change } from '../../editing/propose.js';
import type { Show } from '../../show/model/model.js';
import type { TrackingOptions } from '../../tracking/options.js';
import type { Smoothed } from '../assessing/smoother.js';
import { aimsWith, type Feed, heardOf } from './tune-feed.js';
import { type Figures, judge, judgeAims, referenceOf, shareOf, walkedS } from './tune-judge.js';
import { latencyOf, offsetsOf, unknownAnyway } from './tune-measured.js';
import { frozenOf, noiseOf, noiseOptions, reacquireOf, type Searched } from './tune-options.js';
import type { Outcome, Step } from './tune-outcome.js';
import {
  type TrackerFacts,
  type TwinFacts,
  trackerFacts,
  trackerPaths,
  twinFacts,
} from './tune-trackers.js';

export interface Tuning {
  /** Why the recording is too short to choose options from; undefined if it is long enough. */
  readonly tooShort: string | undefined;
  readonly lengthS: number;
  /** The recordings are longer than `lengthS`; the rest is left out. */
  readonly isCut: boolean;
  /** How many reports reached nobody's track, by reason. */
  readonly leftOut: Readonly<Record<string, number>>;
  /** How long all performers together walked, seconds. */
  readonly walkedS: number;
  readonly trackers: readonly TrackerFacts[];
  readonly twins: readonly TwinFacts[];
  /** With the show as it is. */
  readonly figures: Figures;
  readonly outcomes: readonly Outcome[];
  /** All that is proposed, as changes of the show. */
  readonly changes: readonly Change[];
}

export interface TuneInputs {
  readonly show: Show;
  readonly feed: Feed;
  /** The show with these changes, as a user would have it after applying them; or why they can't be made. */
  readonly changed: (changes: readonly Change[]) => Show | string;
  /** Stamps and this machine's clock follow one time server: their difference is the latency. */
  readonly clocksAgree: boolean;
  /** The reports come from a table: they have no stamps, whatever the show says. */
  readonly isTable: boolean;
  readonly progress: (what: string) => void;
}

/** With less, a single visit to a bad corner would decide (common practice). */
const LEAST_WALKED_S = 30;
const FEWEST_BLOCKS = 12;

/**
 * Searches a recording of a stage for better settings, and proves each proposal by playing the recording again
 * with it. A proposal is dropped if it takes the light away more often, or leaves it beside somebody for longer.
 * A smoother that sees the future gives the reference: where each performer was.
 */
export function tune(inputs: TuneInputs): Tuning {
  const { show, feed, progress } = inputs;
  progress('the show as it is');
  const base = heardOf(show, feed);
  const heard = base.performers.filter(({ reports }) => reports.length > 0);
  const paths = heard.map(one => ({ name: one.name, paths: trackerPaths(one) }));
  const twins = paths.flatMap(one => twinFacts(one.name, one.paths));
  const outcomes: Outcome[] = [];
  const steps: Step[] = [];
  const take = (result: Step | Outcome | undefined) => {
    if (result === undefined) return;
    if ('kind' in result) outcomes.push(result);
    else steps.push(result);
  };

  const latency = latencyOf(show, base, inputs);
  take(latency.result);
  const offsets = heard.flatMap(({ name }) => offsetsOf(show, name, twins));
  for (const { result } of offsets) take(result);
  const fits = new Map(offsets.flatMap(({ tracker, fit }) => (fit ? [[tracker, fit]] : [])));
  const performers = base.performers.map(one => ({
    ...one,
    fits: one.fits.map((fit, i) => fits.get(one.trackers[i] ?? '') ?? fit),
  }));
  const references = performers.map(referenceOf);
  const trackers = paths.flatMap(one => one.paths.map(path => trackerFacts(one.name, path)));
  const { outputLatencyS } = show.tracking;
  const judged = judge(base, references, outputLatencyS, latency.laterS);
  const allWalkedS = walkedS(references);
  const blocks = shareOf(judged.squares, judged.squares).blocks;
  const tooShort =
    allWalkedS < LEAST_WALKED_S || blocks < FEWEST_BLOCKS
      ? `they walk for ${Math.round(allWalkedS)} s in it, in ${blocks} ${blocks === 1 ? 'stretch' : 'stretches'} of 5 s; ${LEAST_WALKED_S} s and ${FEWEST_BLOCKS} stretches are the least`
      : undefined;

  let options = show.tracking.track;
  const search = (what: string, candidates: readonly TrackingOptions[]): Searched => {
    const tried = candidates.map((candidate, i) => {
      progress(`${what}, ${i + 1} of ${candidates.length}`);
      const aims = performers.map(one => aimsWith(one, candidate, outputLatencyS));
      return judgeAims(aims, references, outputLatencyS).squares;
    });
    return { tried, sums: tried.map(squares => squares.reduce((a, b) => a + b, 0)) };
  };
  if (tooShort === undefined) {
    const noise = noiseOf(options, trackers, search);
    take(noise);
    // What is improbable depends on it.
    if (!('kind' in noise)) options = { ...options, ...noiseOptions(Number(noise.proposed)) };
    take(reacquireOf(options, search));
  }
  take(frozenOf(options, trackers));
  outcomes.push(...unknownAnyway(show));

  const { made, figures } = prove(inputs, steps, references, judged.figures, latency.laterS);
  return {
    tooShort,
    lengthS: base.lengthS,
    isCut: base.isCut,
    leftOut: base.leftOut,
    walkedS: allWalkedS,
    trackers,
    twins,
    figures: judged.figures,
    outcomes: [...figures, ...outcomes],
    changes: made,
  };
}

/** Plays the recording with one more proposal each time, and drops those that do harm. */
function prove(
  { feed, show, changed, progress }: TuneInputs,
  steps: readonly Step[],
  references: readonly Smoothed[],
  asItIs: Figures,
  laterS: number,
): { made: Change[]; figures: Outcome[] } {
  const made: Change[] = [];
  const outcomes: Outcome[] = [];
  let before = asItIs;
  for (const first of steps) {
    for (let step: Step | undefined = first; step !== undefined; step = step.instead) {
      const { what, now, proposed, why, change, instead } = step;
      progress(`${what}: the recording again`);
      const next = changed([...made, change]);
      if (typeof next === 'string') {
        outcomes.push({ kind: 'kept', what, why: `${why}; but ${next}` });
        break;
      }
      const { outputLatencyS } = show.tracking;
      const { figures } = judge(heardOf(next, feed), references, outputLatencyS, laterS);
      const harm = harmOf(before, figures);
      if (harm === undefined) {
        made.push(change);
        before = figures;
        outcomes.push({ kind: 'proposed', what, now, proposed, why, figures });
        break;
      }
      if (instead === undefined) {
        outcomes.push({ kind: 'kept', what, why: `${proposed} was tried (${why}), and ${harm}` });
      }
    }
  }
  return { made, figures: outcomes };
}

/** A smaller difference is chance, seconds. */
const SAME_MISSED_S = 0.5;

function harmOf(before: Figures, after: Figures): string | undefined {
  if (after.losses > before.losses) {
    return `the light would have been taken from somebody ${after.losses} times instead of ${before.losses}`;
  }
  if (after.falseAlarms > before.falseAlarms) {
    return `there would have been ${after.falseAlarms} false alarms instead of ${before.falseAlarms}`;
  }
  if (after.missedS > before.missedS + SAME_MISSED_S) {
    return `the light would have been more than a metre beside somebody for ${after.missedS.toFixed(1)} s instead of ${before.missedS.toFixed(1)} s`;
  }
  return undefined;
}
