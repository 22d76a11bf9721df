import { unreachable } from '../stage/unreachable.js';
import { clearDoubt, createDoubts, type Doubts, inherit } from './doubt.js';
import { both, either, NO, not, type Truth, truthOf, YES } from './kleene.js';
import type { ConditionPlan, ConditionTest } from './plan.js';
import { isPoint, type Ranges } from './ranges.js';

/** Adding up ticks is off by less than this, s. */
const ROUNDING_S = 1e-6;

/**
 * Conditions as they stand. What is three-valued runs twice as something two-valued: once for what is surely so and
 * once for what may be so. All of it keeps order (thresholds, `for`, `hold`, all, any), and `not` changes the two over,
 * so that what would be so if nobody were lost lies between the two.
 */
export interface Conditions {
  readonly plans: readonly ConditionPlan[];
  /** For each condition 1 where it is surely yes, and where it may be. */
  readonly surely: Uint8Array;
  readonly possibly: Uint8Array;
  /** 1 where it was yes when it was last known. */
  readonly kept: Uint8Array;
  readonly doubts: Doubts;
  /** The same of the thresholds alone, before `for` and `hold`. */
  readonly threshold: {
    readonly surely: Uint8Array;
    readonly possibly: Uint8Array;
    readonly kept: Uint8Array;
  };
  /** For how long the test has been so, seconds; negative while it is not. */
  readonly lasted: { readonly surely: Float64Array; readonly possibly: Float64Array };
  /** For how long it will still be held, seconds. */
  readonly held: { readonly surely: Float64Array; readonly possibly: Float64Array };
}

export function createConditions(plans: readonly ConditionPlan[]): Conditions {
  const count = plans.length;
  return {
    plans,
    surely: new Uint8Array(count),
    possibly: new Uint8Array(count).fill(1),
    kept: new Uint8Array(count),
    doubts: createDoubts(count),
    threshold: {
      surely: new Uint8Array(count),
      possibly: new Uint8Array(count).fill(1),
      kept: new Uint8Array(count),
    },
    lasted: {
      surely: new Float64Array(count).fill(-1),
      possibly: new Float64Array(count).fill(-1),
    },
    held: { surely: new Float64Array(count), possibly: new Float64Array(count) },
  };
}

export function truthIn({ surely, possibly }: Conditions, at: number): Truth {
  return truthOf(surely[at] === 1, possibly[at] === 1);
}

/** @param dtS seconds since the last one, at least 0 */
export function stepCondition(
  conditions: Conditions,
  at: number,
  signals: Ranges,
  signalDoubts: Doubts,
  dtS: number,
): void {
  const { plans, doubts, surely, possibly, kept, lasted, held } = conditions;
  const { test, forS, holdS } = plans[at] as ConditionPlan;
  clearDoubt(doubts, at);
  let truth: Truth = NO;
  switch (test.kind) {
    case 'threshold':
      inherit(doubts, at, signalDoubts, test.signal);
      truth = stepThreshold(conditions, at, test, signals);
      break;
    case 'all':
      truth = YES;
      for (const one of test.of) {
        inherit(doubts, at, doubts, one);
        truth = both(truth, truthIn(conditions, one));
      }
      break;
    case 'any':
      for (const one of test.of) {
        inherit(doubts, at, doubts, one);
        truth = either(truth, truthIn(conditions, one));
      }
      break;
    case 'not':
      inherit(doubts, at, doubts, test.condition);
      truth = not(truthIn(conditions, test.condition));
      break;
    default:
      unreachable(test);
  }
  let sure = truth === YES;
  let maybe = truth !== NO;
  sure = outlast(lasted.surely, at, sure, forS, dtS);
  maybe = outlast(lasted.possibly, at, maybe, forS, dtS);
  sure = holdOn(held.surely, at, sure, holdS, dtS);
  maybe = holdOn(held.possibly, at, maybe, holdS, dtS);
  surely[at] = sure ? 1 : 0;
  possibly[at] = maybe ? 1 : 0;
  if (sure === maybe) kept[at] = sure ? 1 : 0;
}

function stepThreshold(
  { threshold: { surely, possibly, kept }, doubts }: Conditions,
  at: number,
  { signal, direction, on, off }: Extract<ConditionTest, { kind: 'threshold' }>,
  signals: Ranges,
): Truth {
  const [lo, hi] = [signals.lo[signal] as number, signals.hi[signal] as number];
  if (surely[at] !== possibly[at] && doubts.lost[at] === 0 && isPoint(signals, signal)) {
    // Everybody is there again. Between on and off it is what it was, however long nobody knew: with `not`, a no of
    // its own accord would light up what was dark.
    surely[at] = kept[at] as number;
    possibly[at] = surely[at] as number;
  }
  const [sureOn, sureOff, maybeOn, maybeOff] =
    direction === 'above'
      ? [lo >= on, lo <= off, hi >= on, hi <= off]
      : [hi <= on, hi >= off, lo <= on, lo >= off];
  if (sureOn) surely[at] = 1;
  else if (sureOff) surely[at] = 0;
  if (maybeOn) possibly[at] = 1;
  else if (maybeOff) possibly[at] = 0;
  if (surely[at] === possibly[at]) kept[at] = surely[at] as number;
  return truthOf(surely[at] === 1, possibly[at] === 1);
}

/** @returns whether it has been so for as long as it has to be */
function outlast(
  lasted: Float64Array,
  at: number,
  is: boolean,
  forS: number,
  dtS: number,
): boolean {
  if (!is) {
    lasted[at] = -1;
    return false;
  }
  const was = lasted[at] as number;
  const lastsS = was < 0 ? 0 : was + dtS;
  lasted[at] = lastsS;
  return lastsS >= forS - ROUNDING_S;
}

/** @returns whether it is so, or was so lately enough */
function holdOn(held: Float64Array, at: number, is: boolean, holdS: number, dtS: number): boolean {
  if (is) {
    held[at] = holdS;
    return true;
  }
  const leftS = (held[at] as number) - dtS;
  held[at] = Math.max(0, leftS);
  return leftS > ROUNDING_S;
}
