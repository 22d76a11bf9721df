import type { Show } from '../show/model.js';
import type { Change, ChangeValue } from '../show/propose.js';
import { optionsForNoise, type TrackerFit, type TrackingOptions } from '../tracking/options.js';
import { aimsWith, type Course, courseOf, type Feed } from './tune-course.js';
import {
  type Figures,
  judge,
  judgeAims,
  type Reference,
  referenceOf,
  shareOf,
  walkedS,
} from './tune-judge.js';
import {
  type Measured,
  type TrackerFacts,
  type TwinFacts,
  trackerFacts,
  twinFacts,
} from './tune-trackers.js';

/** One thing that tuning looked at, and what it came to. */
export type Outcome =
  | {
      readonly kind: 'proposed';
      readonly what: string;
      readonly now: string;
      readonly proposed: string;
      readonly why: string;
      /** Over the recording, with this and the proposals before it. */
      readonly figures: Figures;
    }
  /** It may stay as it is. */
  | { readonly kind: 'kept'; readonly what: string; readonly why: string }
  /** The recording does not tell. */
  | { readonly kind: 'unknown'; readonly what: string; readonly why: string };

export interface Tuning {
  /** Why it is too short to choose any option by; undefined where it isn't. */
  readonly tooShort: string | undefined;
  readonly lengthS: number;
  /** All performers together, seconds. */
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
  /** The show with changes, as a user would have it after applying them; or why they can't be made. */
  readonly changed: (changes: readonly Change[]) => Show | string;
  /** Stamps and this machine's clock follow one time server: their difference is the latency. */
  readonly clocksAgree: boolean;
  /** The reports are of a table: they bring no stamps, whatever the show says. */
  readonly isTable: boolean;
  readonly progress: (what: string) => void;
}

/** Common practice: with less, one visit to a bad corner decides. */
const LEAST_WALKED_S = 30;
const FEWEST_BLOCKS = 12;

const NOISES_M = [0.02, 0.03, 0.05, 0.075, 0.1, 0.15, 0.2, 0.3, 0.45, 0.6];
const REACQUIRES_S = [0.3, 0.5, 0.7, 1, 1.4, 2, 3];
/** Of settings that are as good to this share, the one is taken that is steadier, or nearer to what the show has. */
const AS_GOOD = 1.02;

/** A difference in latency or place below this is not worth a line in the show. */
const LEAST_LATENCY_S = 0.01;
const LEAST_OFFSET_M = 0.05;
/** An offset is proposed where the interval of each part is no wider than this either way, metres. */
const SURE_OFFSET_M = 0.05;
const LEAST_LAG_S = 0.03;
/** The least transit of one part of a recording and of another may differ by so much, seconds. */
const STEADY_TRANSIT_S = 0.03;

interface Step {
  readonly what: string;
  readonly now: string;
  readonly proposed: string;
  readonly why: string;
  readonly change: Change;
  /** What is tried next where this does harm. */
  readonly instead?: Step;
}

/**
 * Looks through a recording of a stage for what the show could say better, and proves each proposal by
 * playing the recording again with it: one that would take the light away more often, or leave it beside
 * somebody for longer, is not made. Where somebody was is told by a smoother that sees the future.
 */
export function tune(inputs: TuneInputs): Tuning {
  const { show, feed, progress } = inputs;
  progress('the show as it is');
  const base = courseOf(show, feed);
  const heard = base.performers.filter(({ reports }) => reports.length > 0);
  const twins = heard.flatMap(twinFacts);
  const outcomes: Outcome[] = [];
  const steps: Step[] = [];
  const take = (result: Step | Outcome | undefined) => {
    if (result === undefined) return;
    if ('kind' in result) outcomes.push(result);
    else steps.push(result);
  };

  const latency = latencyOf(inputs, base);
  take(latency.result);
  const offsets = heard.flatMap(({ name }) => offsetsOf(show, name, twins));
  for (const { result } of offsets) take(result);
  const fits = new Map(offsets.flatMap(({ tracker, fit }) => (fit ? [[tracker, fit]] : [])));
  const performers = base.performers.map(one => ({
    ...one,
    fits: one.fits.map((fit, i) => fits.get(one.trackers[i] ?? '') ?? fit),
  }));
  const references = performers.map(referenceOf);
  const trackers = performers.flatMap((one, who) =>
    trackerFacts(one, references[who] as Reference),
  );
  const { outputLatencyS } = show.tracking;
  const judged = judge(base, references, outputLatencyS, latency.laterS);
  const allWalkedS = walkedS(references);
  const blocks = shareOf(judged.squares, judged.squares).blocks;
  const tooShort =
    allWalkedS < LEAST_WALKED_S || blocks < FEWEST_BLOCKS
      ? `they walk for ${Math.round(allWalkedS)} s in it, in ${blocks} stretches of 5 s; ${LEAST_WALKED_S} s and ${FEWEST_BLOCKS} stretches are the least`
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
    walkedS: allWalkedS,
    trackers,
    twins,
    figures: judged.figures,
    outcomes: [...figures, ...outcomes],
    changes: made,
  };
}

interface Searched {
  readonly tried: readonly Float64Array[];
  readonly sums: readonly number[];
}
type Search = (what: string, candidates: readonly TrackingOptions[]) => Searched;

/** Plays the recording with one proposal more each time, and leaves out those that do harm. */
function prove(
  { feed, show, changed, progress }: TuneInputs,
  steps: readonly Step[],
  references: readonly Reference[],
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
      const { figures } = judge(courseOf(next, feed), references, outputLatencyS, laterS);
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

/** A tick or two more or less is chance. */
const SAME_MISSED_S = 0.5;

function harmOf(before: Figures, after: Figures): string | undefined {
  if (after.losses > before.losses) {
    return `the light would have been taken from somebody ${after.losses} times instead of ${before.losses}`;
  }
  if (after.falseAlarms > before.falseAlarms) {
    return `there would have been ${after.falseAlarms} false alarms instead of ${before.falseAlarms}`;
  }
  if (after.missedS > before.missedS + SAME_MISSED_S) {
    return `the light would have been more than a metre off somebody for ${after.missedS.toFixed(1)} s instead of ${before.missedS.toFixed(1)} s`;
  }
  return undefined;
}

/** How old reports are when they arrive, as their stamps tell if both clocks agree. */
function latencyOf(
  { show, clocksAgree, isTable }: TuneInputs,
  { transits }: Course,
): { result: Step | Outcome; laterS: number } {
  const what = 'tracking.sensorLatency';
  const nowS = show.tracking.sensorLatencyS;
  const unknown = (why: string) => ({
    result: { kind: 'unknown', what, why } as const,
    laterS: 0,
  });
  if (isTable || transits.length === 0) {
    return unknown(
      "the reports bring no stamps, so nothing tells how old they are when they arrive. Let the tracking system stamp them, or take its maker's figure",
    );
  }
  const leastS = Math.min(...transits.map(transit => transit.leastS));
  const mostS = Math.max(...transits.map(transit => transit.mostS));
  const range = `${leastS.toFixed(3)} to ${mostS.toFixed(3)} s`;
  if (leastS < 0 || mostS > 2) {
    return unknown(`the stamps are by a clock that does not agree with this machine's (${range})`);
  }
  if (mostS - leastS > STEADY_TRANSIT_S) {
    return unknown(
      `from stamp to arrival the fastest reports took ${range}: one of the clocks drifts or steps, so that no latency can be told`,
    );
  }
  const latencyS = Math.round(leastS * 1e3) / 1e3;
  const took = `from stamp to arrival the fastest reports took ${leastS.toFixed(3)} s`;
  if (!clocksAgree) {
    return unknown(
      `${took}. That is their age if both clocks follow one time server: then say --clocks-agree`,
    );
  }
  if (Math.abs(latencyS - nowS) < LEAST_LATENCY_S) {
    return { result: { kind: 'kept', what, why: `${took}` }, laterS: 0 };
  }
  return {
    laterS: latencyS - nowS,
    result: {
      what,
      now: `${nowS}`,
      proposed: `${latencyS}`,
      why: took,
      change: trackingChange('sensorLatency', latencyS),
    },
  };
}

function offsetsOf(
  show: Show,
  performer: string,
  twins: readonly TwinFacts[],
): { tracker: string; fit: TrackerFit | undefined; result: Step | Outcome }[] {
  const plan = show.performers.find(({ name }) => name === performer);
  return twins
    .filter(twin => twin.performer === performer)
    .flatMap(twin => {
      const planned = (id: string) => plan?.trackers.find(tracker => tracker.id === id);
      const [one, two] = [planned(twin.first), planned(twin.second)];
      const place = plan?.trackers.findIndex(({ id }) => id === twin.second) ?? -1;
      const what = `performers.${performer}: offset of tracker ${twin.second}`;
      const results: { tracker: string; fit: TrackerFit | undefined; result: Step | Outcome }[] =
        [];
      const tell = (result: Step | Outcome, fit?: TrackerFit) =>
        results.push({ tracker: twin.second, fit, result });
      const lag = lagOf(performer, twin);
      if (lag !== undefined) tell(lag);
      // Given while the recording ran: the show says nothing of how it is worn.
      if (one === undefined || two === undefined) return results;
      const parts = [twin.forwardM, twin.leftM, twin.upM];
      const widest = Math.max(...parts.map(halfOf));
      if (!(widest <= SURE_OFFSET_M)) {
        const why = Number.isNaN(widest)
          ? `too little walking with ${twin.first} and ${twin.second} together`
          : `it can be told to ${widest.toFixed(2)} m only; ${SURE_OFFSET_M} m are asked for. Walk more, and at several speeds`;
        tell({ kind: 'unknown', what, why });
        return results;
      }
      const wanted = [one.fit.forwardM, one.fit.leftM, one.fit.upM].map(
        (value, i) => Math.round(100 * (value + (parts[i] as Measured).value)) / 100,
      ) as [number, number, number];
      const [forward, left, up] = wanted;
      const declared = [two.fit.forwardM, two.fit.leftM, two.fit.upM];
      const from = `from ${twin.first} to ${twin.second}, in the frame of the body: ${parts.map(wordsOf).join(', ')}`;
      const isOff = wanted.some(
        (value, i) =>
          Math.abs(value - (declared[i] as number)) >
          Math.max(LEAST_OFFSET_M, halfOf(parts[i] as Measured)),
      );
      if (!isOff) {
        tell({ kind: 'kept', what, why: from });
        return results;
      }
      const { noiseShare } = two.fit;
      const offset = { forward, left, up };
      const noise = noiseShare * show.tracking.track.horizontal.whiteM;
      tell(
        {
          what,
          now: offsetText(declared),
          proposed: offsetText(wanted),
          why: from,
          change: {
            path: ['performers', performer, 'trackers', String(place)],
            value: {
              id: idValue(two.id),
              offset,
              ...(noiseShare === 1 ? {} : { noise: Math.round(1e4 * noise) / 1e4 }),
            },
          },
        },
        { forwardM: forward, leftM: left, upM: up, noiseShare },
      );
      return results;
    });
}

/** As the show would have it: a number where it is one. */
function idValue(id: string): string | number {
  return /^(0|[1-9]\d{0,8})$/.test(id) ? Number(id) : JSON.stringify(id);
}

function halfOf({ low, high }: Measured): number {
  return (high - low) / 2;
}

function wordsOf({ value, low, high }: Measured, i: number): string {
  const words = [
    ['forward', 'back'],
    ['left', 'right'],
    ['up', 'down'],
  ][i] as [string, string];
  return `${Math.abs(value).toFixed(2)} m ${value < 0 ? words[1] : words[0]} (${low.toFixed(2)} .. ${high.toFixed(2)})`;
}

function offsetText([forward, left, up]: readonly (number | undefined)[]): string {
  return `forward ${forward}, left ${left}, up ${up}`;
}

/** One latency stands for all trackers: what differs can only be told. */
function lagOf(performer: string, { first, second, lagS }: TwinFacts): Outcome | undefined {
  const what = `performers.${performer}: lag of tracker ${second} against ${first}`;
  if (Number.isNaN(lagS.low)) return undefined;
  const range = `${lagS.value.toFixed(3)} s (${lagS.low.toFixed(3)} .. ${lagS.high.toFixed(3)})`;
  if (halfOf(lagS) > 2 * LEAST_LAG_S) {
    return { kind: 'unknown', what, why: `${range}: they walk at too few speeds to tell` };
  }
  const isOff = Math.abs(lagS.value) > LEAST_LAG_S && (lagS.low > 0 || lagS.high < 0);
  if (!isOff) return { kind: 'kept', what, why: `${range}: as good as none` };
  const late = lagS.value > 0 ? second : first;
  return {
    kind: 'unknown',
    what,
    why: `${range}: ${late} comes later. The show has one sensorLatency for all; let the tracking system stamp its positions, and each is placed at its own time`,
  };
}

function noiseOf(
  options: TrackingOptions,
  trackers: readonly TrackerFacts[],
  search: Search,
): Step | Outcome {
  const what = 'tracking.noise';
  const now = options.horizontal.whiteM;
  // Never less than any tracker scatters: what is believed too readily overshoots.
  const leastM = trackers.reduce(
    (most, { noiseM, noiseShare }) => (noiseM > most * noiseShare ? noiseM / noiseShare : most),
    0,
  );
  const values = [...new Set([...NOISES_M, now])].filter(value => value >= leastM);
  values.sort((a, b) => a - b);
  const { tried, sums } = search(
    what,
    values.map(value => ({ ...options, ...noiseOptions(value) })),
  );
  const best = Math.min(...sums);
  // The steadiest of the best.
  const chosen = sums.findLastIndex(sum => sum <= best * AS_GOOD ** 2);
  const why = `the trackers scatter by up to ${leastM.toFixed(2)} m`;
  if (now < leastM && chosen >= 0) {
    const safer = (value: number): Step => ({
      what,
      now: `${now}`,
      proposed: `${value}`,
      why: `${why}, more than the show says: reports would be believed too readily`,
      change: trackingChange('noise', value),
    });
    const [least, best] = [values[0] as number, values[chosen] as number];
    return least === best ? safer(best) : { ...safer(best), instead: safer(least) };
  }
  return decide({ what, values, now, chosen, tried, unit: 'm', why, key: 'noise' });
}

function noiseOptions(noiseM: number): Pick<TrackingOptions, 'horizontal' | 'vertical'> {
  const { horizontal, vertical } = optionsForNoise(noiseM);
  return { horizontal, vertical };
}

function reacquireOf(options: TrackingOptions, search: Search): Step | Outcome {
  const what = 'tracking.reacquire';
  const now = options.reacquireS;
  const values = [...new Set([...REACQUIRES_S, now])].sort((a, b) => a - b);
  const { tried, sums } = search(
    what,
    values.map(reacquireS => ({ ...options, reacquireS })),
  );
  const best = Math.min(...sums);
  const good = values
    .map((value, i) => ({ i, far: Math.abs(Math.log(value / now)) }))
    .filter(({ i }) => (sums[i] as number) <= best * AS_GOOD ** 2)
    .sort((a, b) => a.far - b.far);
  const chosen = good[0]?.i ?? values.indexOf(now);
  const why = 'improbable places that lasted, and whether they were right';
  return decide({ what, values, now, chosen, tried, unit: 's', why, key: 'reacquire' });
}

interface Decision {
  readonly what: string;
  readonly key: string;
  readonly unit: string;
  readonly values: readonly number[];
  readonly now: number;
  readonly chosen: number;
  readonly tried: readonly Float64Array[];
  readonly why: string;
}

/** Only what wins with confidence is proposed. */
function decide(decision: Decision): Step | Outcome {
  const { what, key, unit, values, now, chosen, tried, why } = decision;
  const value = values[chosen] as number;
  const isNow = value === now;
  if (isNow) {
    return {
      kind: 'kept',
      what,
      why: `${why}; none of ${listOf(values, unit)} is better by more than 2 %`,
    };
  }
  const { share, low, high } = shareOf(
    tried[chosen] as Float64Array,
    tried[values.indexOf(now)] as Float64Array,
  );
  const compared = `${value} ${unit} is off by ${share.toFixed(2)} of what ${now} ${unit} is (${low.toFixed(2)} .. ${high.toFixed(2)} in 90 of 100 draws of stretches of 5 s)`;
  if (!(high < 1)) {
    return { kind: 'kept', what, why: `${why}; the best, ${compared}, is not better for certain` };
  }
  return {
    what,
    now: `${now}`,
    proposed: `${value}`,
    why: `${why}; ${compared}`,
    change: trackingChange(key, value),
  };
}

function listOf(values: readonly number[], unit: string): string {
  return `${values[0]} to ${values.at(-1)} ${unit}`;
}

/** A tracker that repeats itself while its bearer stands must not be taken for one that hangs. */
function frozenOf(options: TrackingOptions, trackers: readonly TrackerFacts[]): Step | Outcome {
  const what = 'tracking.frozen';
  const now = options.frozenS;
  const longest = trackers.reduce((most, one) => Math.max(most, one.longestRepeatS), 0);
  const hangs = trackers.reduce((sum, one) => sum + one.hangs, 0);
  const hung = hangs === 0 ? '' : `; ${hangs} times a feed hung, and went on from elsewhere`;
  const why = `the longest that a tracker repeated itself and then went on from there was ${longest.toFixed(1)} s${hung}`;
  if (2 * longest <= now) return { kind: 'kept', what, why };
  const value = Math.min(3600, 10 * Math.ceil(longest / 5));
  if (value <= now) return { kind: 'kept', what, why };
  return {
    what,
    now: `${now}`,
    proposed: `${value}`,
    why,
    change: trackingChange('frozen', value),
  };
}

function unknownAnyway(show: Show): Outcome[] {
  const heads = show.fixtures.filter(({ head }) => head !== undefined).length;
  return [
    {
      kind: 'unknown',
      what: 'tracking.outputLatency',
      why: 'a recording ends at this machine: nothing in it says when the light came',
    },
    ...(heads === 0
      ? []
      : [
          {
            kind: 'unknown' as const,
            what: `lag of ${heads} heads`,
            why: 'nothing in a recording says when a head moved: film beam and slots, as the guide to writing a show says',
          },
        ]),
  ];
}

function trackingChange(key: string, value: ChangeValue): Change {
  return { path: ['tracking', key], value };
}
