import type { PlanOptions, WearerOptions } from './options.js';
import { checkRules, type RuleResult, shareOf } from './rules.js';
import { type Suggestion, suggest } from './suggest.js';
import { placeAt, type Survey, survey } from './survey.js';
import { stageWords, WORDS } from './words.js';

/** What an anchor layout is worth. */
export interface Plan {
  /** For the wearer whom the layout serves worst, as all that is drawn from it. */
  readonly survey: Survey;
  /** Whom the survey is for. */
  readonly wearer: WearerOptions;
  /** Each way of wearing a tracker, in the order of the wearers. */
  readonly worn: readonly Worn[];
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

/** What the layout is worth to those who wear their trackers alike, facing the worst way. */
export interface Worn {
  readonly wearer: WearerOptions;
  /** Which of the wearers they are. */
  readonly members: readonly number[];
  readonly labels: readonly string[];
  readonly errorM: Spread;
  /** Share of the stage where there is a position whichever way they face. */
  readonly positionShare: number;
}

/** Everything at once: the map, its summary, worst places, rules, and what would help. */
export function planAnchors(options: PlanOptions): Plan {
  const surveys = surveyAll(options);
  const worse = (a: Worn, b: Worn) =>
    a.positionShare - b.positionShare ||
    b.errorM.p95 - a.errorM.p95 ||
    b.errorM.median - a.errorM.median;
  const [first] = [...surveys].sort((a, b) => worse(a.worn, b.worn));
  if (first === undefined) throw new Error('a plan needs a performer with a tracker');
  const { map, worn } = first;
  return {
    survey: map,
    wearer: worn.wearer,
    worn: surveys.map(one => one.worn),
    summary: summarise(map),
    worst: worstPlaces(options, map),
    rules: checkRules(options, map),
    suggestions: suggest(options, worn.wearer),
  };
}

/** The map for one way of wearing a tracker, and what it comes to. */
export interface WornSurvey {
  readonly map: Survey;
  readonly worn: Worn;
}

/** A map for each way in which a tracker is worn. */
export function surveyAll(options: PlanOptions): WornSurvey[] {
  return alike(options.wearers).map(group => {
    const map = survey(options, group.wearer);
    const errors = map.errorM.own.worst;
    const errorM = spreadOf(map.open, errors);
    const positionShare = shareOf(map.open, i => Number.isFinite(errors[i]));
    return { map, worn: { ...group, errorM, positionShare } };
  });
}

/** Those who wear their trackers alike, together. */
function alike(wearers: readonly WearerOptions[]): Pick<Worn, 'wearer' | 'members' | 'labels'>[] {
  const groups = new Map<string, { wearer: WearerOptions; members: number[]; labels: string[] }>();
  wearers.forEach((wearer, index) => {
    const { heightM, wornAtM, isPair = false, label } = wearer;
    const key = `${heightM} ${wornAtM} ${isPair}`;
    const group = groups.get(key) ?? { wearer, members: [], labels: [] };
    group.members.push(index);
    if (label !== undefined) group.labels.push(label);
    groups.set(key, group);
  });
  return [...groups.values()];
}

function spreadOf(open: Uint8Array, map: Float64Array): Spread {
  const values = map.filter((_, i) => open[i] === 1).sort();
  const at = (share: number) =>
    values[Math.min(values.length - 1, Math.ceil(share * values.length) - 1)] ??
    Number.POSITIVE_INFINITY;
  return {
    best: values[0] ?? Number.POSITIVE_INFINITY,
    median: at(0.5),
    p95: at(0.95),
    worst: at(1),
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
  const spread = (map: Float64Array) => spreadOf(open, map);
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
