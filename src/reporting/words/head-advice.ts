import { figure } from '../../drawing/page.js';
import type { Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';
import type { WithoutHead } from '../measures/hand-over-times.js';
import type { KeepOutTime } from '../measures/keep-out-times.js';
import { barredInWords } from './hand-over-words.js';
import type { Recommendation, Report } from './report-data.js';
import { inWords } from './words.js';

type Source = Pick<Report, 'keepOuts' | 'withoutHead' | 'outsideBeam' | 'fromS' | 'endS'>;

/** A head that goes dark on its way past a keep-out is right to do so; only a longer time is worth advice, seconds. */
const LONG_DARK_S = 5;
/** So is being dark for more than this share of the time. */
const DARK_SHARE = 0.05;
/** A shorter time is the way of a head from one performer to the other, seconds. */
const LEAST_WITHOUT_S = 3;
/** A head that is dark is half as bad as a performer who is lost: the others are lit. */
const WEIGHT = 0.5;

/** Advice about heads that were dark for a keep-out for long, and about people without a head. */
export function headAdvice({
  keepOuts,
  withoutHead,
  outsideBeam,
  fromS,
  endS,
}: Source): Recommendation[] {
  const lengthS = Math.max(1e-9, endS - fromS);
  const dark = keepOuts.filter(
    ({ forS, longestS }) => longestS >= LONG_DARK_S || forS >= DARK_SHARE * lengthS,
  );
  return [
    ...dark.map(one => darkAdvice(one, lengthS)),
    ...outsideAdvice(outsideBeam),
    ...withoutAdvice(
      withoutHead.map(one => ({
        ...one,
        // What an operator switched off is off on purpose.
        forS: one.forS - one.whileFreeS - one.whileBarredS - one.whileOffS,
      })),
      'all heads that can light them were on others',
      'Add a head to the group that shares them, or share fewer people there; pin a head to keep it on somebody.',
    ),
    ...withoutAdvice(
      withoutHead.map(one => ({ ...one, forS: one.whileFreeS })),
      'a head that can light them was on nobody: on its way, or pinned',
      'Look at such a moment with `lampwright explain`: it shows the cost of each head for them. A head that has less far to turn gets there sooner.',
    ),
    ...withoutAdvice(
      withoutHead.map(one => ({ ...one, forS: one.whileBarredS })),
      `none of the heads for them could light them: ${barredInWords(withoutHead.filter(one => one.whileBarredS >= LEAST_WITHOUT_S))}`,
      'Another head in the same place would not help. Hang or turn a head so that it can reach them there, or have them stand elsewhere.',
    ),
  ];
}

function darkAdvice({ fixture, keepOut, times, forS, longestS }: KeepOutTime, lengthS: number) {
  const share = inWords.share(Math.min(1, forS / lengthS));
  const most = times === 1 ? '' : `, ${inWords.duration(longestS)} at most`;
  return {
    what: `${fixture} was dark for the keep-out ${keepOut} ${inWords.times(times)}, ${inWords.duration(forS)} in all${most} (${share} of the time): its beam would have touched it.`,
    act: 'Hang or turn it differently, make its beam narrower, or use another head for that place.',
    weightS: WEIGHT * forS,
  };
}

function withoutAdvice(all: readonly WithoutHead[], why: string, act: string): Recommendation[] {
  const told = all.filter(({ forS }) => forS >= LEAST_WITHOUT_S).sort((a, b) => b.forS - a.forS);
  const [most] = told;
  if (most === undefined) return [];
  const whom =
    told.length === 1
      ? `${most.label} was tracked and had no head for ${inWords.duration(most.forS)}`
      : `${told.length} people were tracked and had no head for a time (${enumerated(told.map(one => `${one.label} ${inWords.duration(one.forS)}`))})`;
  return [
    {
      what: `${whom}: ${why}.`,
      act,
      weightS: WEIGHT * told.reduce((sum, { forS }) => sum + forS, 0),
    },
  ];
}

/** Advice about heads on the middle of several, one for each head; it weighs as the performer who was outside for longest. */
function outsideAdvice(all: Report['outsideBeam']): Recommendation[] {
  const told = all
    .filter(({ outsideS }) => outsideS >= LEAST_WITHOUT_S)
    .sort((a, b) => b.outsideS - a.outsideS);
  return [...new Set(told.map(({ fixture }) => fixture))].map(name => {
    const own = told.filter(({ fixture }) => fixture === name);
    const whom = own.map(one => `${one.performerLabel} ${inWords.duration(one.outsideS)}`);
    const [first] = own;
    return {
      what: `${first?.label ?? name} follows the middle of several, and some of them were outside its beam: ${enumerated(whom)}.`,
      act: 'Give it a larger `cover`, as far as its Zoom goes; or use one head for each, if they stand far apart.',
      weightS: WEIGHT * (first?.outsideS ?? 0),
    };
  });
}

/** Figures: how long all heads together were dark for keep-outs, and all people without a head. */
export function headFigures({ keepOuts, withoutHead }: Source, show: Show): string[] {
  const sumOf = (all: readonly { readonly forS: number }[]) =>
    inWords.duration(all.reduce((sum, { forS }) => sum + forS, 0));
  const shares = show.mappings.some(
    one => one.kind === 'follow' && one.choice?.rule.kind === 'share',
  );
  return [
    ...(show.keepOuts.length > 0
      ? [figure(sumOf(keepOuts), 'dark for a keep-out, over all heads')]
      : []),
    ...(shares ? [figure(sumOf(withoutHead), 'tracked without a head, over all performers')] : []),
  ];
}
