import type { PlanOptions } from './options.js';
import { checkRules, type RuleResult, shareOf } from './rules.js';
import { type Suggestion, suggest } from './suggest.js';
import { placeAt, type Survey, survey } from './survey.js';
import { stageWords, WORDS } from './words.js';

/** What an anchor layout is worth. */
export interface Plan {
  readonly survey: Survey;
  readonly summary: Summary;
  /** The worst place of each part of the stage, worst first. */
  readonly worst: readonly WorstPlace[];
  readonly rules: readonly RuleResult[];
  readonly suggestions: readonly Suggestion[];
}

/** How a quantity is spread over the stage; infinite where there is no position. */
export interface Spread {
  readonly best: number;
  readonly median: number;
  /** Not above this on 95 % of the stage. */
  readonly p95: number;
  readonly worst: number;
}

export interface InView {
  readonly fewest: number;
  /** Shares of the stage with at least so many. */
  readonly three: number;
  readonly four: number;
}

export const CASES = ['clear', 'ownLikely', 'ownWorst', 'besideLikely', 'besideWorst'] as const;
export type Case = (typeof CASES)[number];

export interface Summary {
  readonly dilution: Record<
    'range' | 'time-difference',
    { readonly horizontal: Spread; readonly vertical: Spread }
  >;
  readonly errorM: Record<Case, Spread>;
  readonly inView: Record<Case, InView>;
}

export interface WorstPlace {
  readonly words: string;
  readonly x: number;
  readonly y: number;
  /** Expected error with the wearer facing the worst way, metres; infinite: no position. */
  readonly errorM: number;
  /** Anchors in view: nobody in the way; facing the worst way; another beside as well. */
  readonly inView: readonly [clear: number, own: number, beside: number];
}

/** Everything at once: the map, its summary, worst places, rules, and what would help. */
export function planAnchors(options: PlanOptions): Plan {
  const map = survey(options);
  return {
    survey: map,
    summary: summarise(map),
    worst: worstPlaces(options, map),
    rules: checkRules(options, map),
    suggestions: suggest(options),
  };
}

export function casesOf<T>(shaded: {
  readonly clear: T;
  readonly own: { readonly worst: T; readonly likely: T };
  readonly beside: { readonly worst: T; readonly likely: T };
}): Record<Case, T> {
  return {
    clear: shaded.clear,
    ownLikely: shaded.own.likely,
    ownWorst: shaded.own.worst,
    besideLikely: shaded.beside.likely,
    besideWorst: shaded.beside.worst,
  };
}

function summarise({ open, dilution, errorM, inView }: Survey): Summary {
  const spread = (map: Float64Array): Spread => {
    const values = [...map].filter((_, i) => open[i] === 1).sort((a, b) => a - b);
    const at = (share: number) =>
      values[Math.min(values.length - 1, Math.ceil(share * values.length) - 1)] ??
      Number.POSITIVE_INFINITY;
    return {
      best: values[0] ?? Number.POSITIVE_INFINITY,
      median: at(0.5),
      p95: at(0.95),
      worst: at(1),
    };
  };
  const counts = (map: Uint8Array): InView => ({
    fewest: [...map].reduce(
      (low, count, i) => (open[i] === 1 ? Math.min(low, count) : low),
      Number.POSITIVE_INFINITY,
    ),
    three: shareOf(open, i => (map[i] ?? 0) >= 3),
    four: shareOf(open, i => (map[i] ?? 0) >= 4),
  });
  const both = (by: keyof typeof dilution) => ({
    horizontal: spread(dilution[by].horizontal),
    vertical: spread(dilution[by].vertical),
  });
  return {
    dilution: { range: both('range'), 'time-difference': both('time-difference') },
    errorM: mapCases(casesOf(errorM), spread),
    inView: mapCases(casesOf(inView), counts),
  };
}

function mapCases<A, B>(cases: Record<Case, A>, to: (value: A) => B): Record<Case, B> {
  return {
    clear: to(cases.clear),
    ownLikely: to(cases.ownLikely),
    ownWorst: to(cases.ownWorst),
    besideLikely: to(cases.besideLikely),
    besideWorst: to(cases.besideWorst),
  };
}

function worstPlaces({ bounds }: PlanOptions, map: Survey): WorstPlace[] {
  const worst = new Map<string, number>();
  const at = { x: 0, y: 0, z: 0 };
  const { errorM, inView } = map;
  // With the wearer's worst way the same, the place that is worse with nobody in the way.
  const isWorse = (a: number, b: number) => {
    const [ea, eb] = [errorM.own.worst[a] ?? 0, errorM.own.worst[b] ?? 0];
    return ea > eb || (ea === eb && (errorM.clear[a] ?? 0) > (errorM.clear[b] ?? 0));
  };
  for (let i = 0; i < map.open.length; i++) {
    if (map.open[i] !== 1) continue;
    placeAt(map.grid, i, at);
    const words = stageWords(bounds, at.x, at.y);
    const known = worst.get(words);
    if (known === undefined || isWorse(i, known)) worst.set(words, i);
  }
  return WORDS.flatMap(words => {
    const index = worst.get(words);
    return index === undefined ? [] : [{ words, index }];
  })
    .sort((a, b) => (isWorse(a.index, b.index) ? -1 : isWorse(b.index, a.index) ? 1 : 0))
    .map(({ words, index }) => {
      placeAt(map.grid, index, at);
      return {
        words,
        x: at.x,
        y: at.y,
        errorM: errorM.own.worst[index] ?? Number.POSITIVE_INFINITY,
        inView: [
          inView.clear[index] ?? 0,
          inView.own.worst[index] ?? 0,
          inView.beside.worst[index] ?? 0,
        ],
      };
    });
}
