import { kindOf, type LossPart, type LossStep } from '../causes/loss-causes.js';
import { inWords } from './words.js';

/** A shorter part of a loss is left out, seconds: it is only the time until everybody is heard and trusted again. */
const LEAST_PART_S = 3;
/** If the parts left out last less than this together, they aren't mentioned, seconds. */
const LEAST_REST_S = 1;

/** The cause of the longest part of a loss, without mere waiting for the light; and in words all parts that lasted, each with its length if there are several. */
export function lastingCause(
  steps: readonly LossStep[],
  untilS: number,
): Pick<LossStep, 'cause' | 'why'> & { readonly parts: readonly LossPart[] } {
  const [first] = steps as [LossStep];
  const sums = new Map<string, number>();
  steps.forEach((step, i) => {
    const forS = (steps[i + 1]?.atS ?? untilS) - step.atS;
    sums.set(kindOf(step), (sums.get(kindOf(step)) ?? 0) + forS);
  });
  // Waiting is a result of what came before it.
  const causes = [...sums].filter(([one]) => one !== 'waiting');
  const [[main]] = causes.sort((a, b) => b[1] - a[1]) as [[string, number]];
  const told = [...sums].filter(
    ([one, forS]) => one === kindOf(first) || one === main || forS >= LEAST_PART_S,
  );
  const wholeS = untilS - first.atS;
  if (told.length < 2) return { ...first, parts: [{ ...first, forS: wholeS }] };
  const of = (one: string) => steps.find(step => kindOf(step) === one) as LossStep;
  const why = told.map(([one, forS]) => `${of(one).why} (${inWords.duration(forS)})`);
  // The time of the parts that are left out goes to the main cause.
  const restS = wholeS - told.reduce((sum, [, forS]) => sum + forS, 0);
  const parts = told.map(([one, forS]) => ({
    ...of(one),
    forS: one === main ? forS + restS : forS,
  }));
  const others = restS < LEAST_REST_S ? '' : `, and others between (${inWords.duration(restS)})`;
  return { cause: of(main).cause, why: `${why.join(', then ')}${others}`, parts };
}

/** The causes in words, without the length of each part. */
export function withoutLengths(why: string): string {
  return why.replace(/ \([\d.:]+ (s|min|h)\)/g, '');
}
