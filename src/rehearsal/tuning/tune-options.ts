import { optionsForNoise, type TrackingOptions } from '../../tracking/options.js';
import { shareOf } from './tune-judge.js';
import { type Outcome, type Step, trackingChange } from './tune-outcome.js';
import type { TrackerFacts } from './tune-trackers.js';

const NOISES_M = [0.02, 0.03, 0.05, 0.075, 0.1, 0.15, 0.2, 0.3, 0.45, 0.6];
const REACQUIRES_S = [0.3, 0.5, 0.7, 1, 1.4, 2, 3];
/** Settings with errors up to this many times the least are as good; the one nearest to the show's is taken. */
const AS_GOOD = 1.02;

/** Settings that were tried on a recording: the squared errors of each by block, m², and their sums. */
export interface Searched {
  readonly tried: readonly Float64Array[];
  readonly sums: readonly number[];
}
export type Search = (what: string, candidates: readonly TrackingOptions[]) => Searched;

export function noiseOf(
  options: TrackingOptions,
  trackers: readonly TrackerFacts[],
  search: Search,
): Step | Outcome {
  const what = 'tracking.noise';
  const now = options.horizontal.whiteM;
  // Never less than the scatter of any tracker: a track that trusts reports too much overshoots.
  const leastM = trackers.reduce(
    (most, { noiseM, noiseShare }) => (noiseM > most * noiseShare ? noiseM / noiseShare : most),
    0,
  );
  const roomy = Math.ceil(20 * leastM) / 20;
  const values = [...new Set([...NOISES_M, now, roomy])].filter(value => value >= leastM);
  values.sort((a, b) => a - b);
  const { tried, sums } = search(
    what,
    values.map(value => ({ ...options, ...noiseOptions(value) })),
  );
  const chosen = nearestOfBest(values, sums, now);
  const why = `the trackers scatter by up to ${leastM.toFixed(2)} m`;
  if (now < leastM) {
    const safer = (value: number): Step => ({
      what,
      now: `${now}`,
      proposed: `${value}`,
      why: `${why}, more than the show says: it trusts reports too much`,
      change: trackingChange('noise', value),
    });
    const [least, best] = [values[0] as number, values[chosen] as number];
    return least === best ? safer(best) : { ...safer(best), instead: safer(least) };
  }
  return decide({ what, values, now, chosen, tried, unit: 'm', why, key: 'noise' });
}

export function noiseOptions(noiseM: number): Pick<TrackingOptions, 'horizontal' | 'vertical'> {
  const { horizontal, vertical } = optionsForNoise(noiseM);
  return { horizontal, vertical };
}

export function reacquireOf(options: TrackingOptions, search: Search): Step | Outcome {
  const what = 'tracking.reacquire';
  const now = options.reacquireS;
  const values = [...new Set([...REACQUIRES_S, now])].sort((a, b) => a - b);
  const { tried, sums } = search(
    what,
    values.map(reacquireS => ({ ...options, reacquireS })),
  );
  const chosen = nearestOfBest(values, sums, now);
  const why = 'how long until a place that seems impossible is believed';
  return decide({ what, values, now, chosen, tried, unit: 's', why, key: 'reacquire' });
}

/** Index of the value nearest to the show's among those that are as good as the best. */
function nearestOfBest(values: readonly number[], sums: readonly number[], now: number): number {
  const best = Math.min(...sums);
  const far = (i: number) => Math.abs(Math.log((values[i] as number) / now));
  return values
    .map((_, i) => i)
    .filter(i => (sums[i] as number) <= best * AS_GOOD ** 2)
    .reduce((nearest, i) => (far(i) < far(nearest) ? i : nearest));
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

/** Proposes a value only if it wins by more than chance. */
function decide(decision: Decision): Step | Outcome {
  const { what, key, unit, values, now, chosen, why } = decision;
  const value = values[chosen] as number;
  const isNow = value === now;
  if (isNow) {
    return {
      kind: 'kept',
      what,
      why: `${why}; none of ${listOf(values, unit)} is better by more than 2 %`,
    };
  }
  const found = compared(decision, chosen);
  if (!found.isWon) {
    const why = `${decision.why}; ${found.text}, which may be chance`;
    return { kind: 'kept', what, why };
  }
  // From the value next to the show's to the best. Each keeps the one before as its `instead`, so the best is tried first.
  let step: Step | undefined;
  const towards = Math.sign(chosen - values.indexOf(now));
  for (let i = values.indexOf(now) + towards; ; i += towards) {
    const { isWon, text } = compared(decision, i);
    if (isWon) {
      step = {
        what,
        now: `${now}`,
        proposed: `${values[i]}`,
        why: `${why}; ${text}`,
        change: trackingChange(key, values[i] as number),
        ...(step === undefined ? {} : { instead: step }),
      };
    }
    if (i === chosen) break;
  }
  return step ?? { kind: 'kept', what, why };
}

/** Compares one setting with that of the show. */
function compared({ values, now, tried, unit }: Decision, i: number) {
  const { share, low, high } = shareOf(
    tried[i] as Float64Array,
    tried[values.indexOf(now)] as Float64Array,
  );
  return {
    // Of ten settings one wins by chance: so the win must also be large enough to matter.
    isWon: high < 1 / AS_GOOD,
    text: `with ${values[i]} ${unit} the aim is ${closer(share)} than with ${now} ${unit} (90 % sure: ${rangeOf(low, high)})`,
  };
}

/** @param share distance off, as a share of the distance before */
function closer(share: number): string {
  const percent = Math.round(100 * Math.abs(1 - share));
  if (percent === 0) return 'as close';
  return `${percent} % ${share < 1 ? 'closer' : 'farther off'}`;
}

/** "23 to 33 % closer", "4 % farther off to 33 % closer". */
function rangeOf(low: number, high: number): string {
  const [least, most] = [closer(high), closer(low)];
  const shared = / % .*$/.exec(most)?.[0] ?? '';
  const isShared = shared !== '' && least.endsWith(shared);
  return `${isShared ? least.slice(0, -shared.length) : least} to ${most}`;
}

function listOf(values: readonly number[], unit: string): string {
  return `${values[0]} to ${values.at(-1)} ${unit}`;
}

/** A tracker may repeat itself while its wearer stands: `frozen` must be longer than that. */
export function frozenOf(
  options: TrackingOptions,
  trackers: readonly TrackerFacts[],
): Step | Outcome {
  const what = 'tracking.frozen';
  const now = options.frozenS;
  const longest = trackers.reduce((most, one) => Math.max(most, one.longestRepeatS), 0);
  const hangs = trackers.reduce((sum, one) => sum + one.hangs, 0);
  const longestHang = trackers.reduce((most, one) => Math.max(most, one.longestHangS), 0);
  const hung =
    hangs === 0
      ? ''
      : `; a tracker was frozen ${hangs === 1 ? 'once' : `${hangs} times, at most`} for ${longestHang.toFixed(1)} s, and went on from elsewhere`;
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
