import type { LossCause } from '../causes/causes.js';
import type { LossPart, LossStep } from '../causes/loss-causes.js';
import { inWords } from './words.js';

/** A shorter part of a loss is not told, seconds: until everybody is heard and believed again, it says nothing. */
const LEAST_PART_S = 3;
/** Of those together a shorter time isn't told either, seconds. */
const LEAST_REST_S = 1;

/** The cause of the longest part of a loss, that of the light alone left out; in words all parts that lasted, with how long where there are several. */
export function lastingCause(
  steps: readonly LossStep[],
  untilS: number,
): Pick<LossStep, 'cause' | 'why'> & { readonly parts: readonly LossPart[] } {
  const [first] = steps as [LossStep];
  const sums = new Map<LossCause, number>();
  steps.forEach(({ atS, cause }, i) => {
    const forS = (steps[i + 1]?.atS ?? untilS) - atS;
    sums.set(cause, (sums.get(cause) ?? 0) + forS);
  });
  // What they wait for comes of what went before.
  const causes = [...sums].filter(([one]) => one !== 'waiting');
  const [[cause]] = causes.sort((a, b) => b[1] - a[1]) as [[LossCause, number]];
  const told = [...sums].filter(
    ([one, forS]) => one === first.cause || one === cause || forS >= LEAST_PART_S,
  );
  const wholeS = untilS - first.atS;
  if (told.length < 2) return { ...first, parts: [{ ...first, forS: wholeS }] };
  const of = (one: LossCause) => steps.find(step => step.cause === one) as LossStep;
  const why = told.map(([one, forS]) => `${of(one).why} (${inWords.duration(forS)})`);
  // What is too short to be told counts with what lasted.
  const restS = wholeS - told.reduce((sum, [, forS]) => sum + forS, 0);
  const parts = told.map(([one, forS]) => ({
    ...of(one),
    forS: one === cause ? forS + restS : forS,
  }));
  const others = restS < LEAST_REST_S ? '' : `, and others between (${inWords.duration(restS)})`;
  return { cause, why: `${why.join(', then ')}${others}`, parts };
}

/** What a loss was for, without how long each part of it lasted. */
export function withoutLengths(why: string): string {
  return why.replace(/ \([\d.:]+ (s|min|h)\)/g, '');
}
