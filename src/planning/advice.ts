import { enumerated } from '../stage/enumerated.js';
import type { Bounds } from '../stage/vector.js';
import type { WearerOptions } from './options.js';
import { described, percent } from './rules.js';
import type { Suggestion } from './suggest.js';
import { BODY } from './view.js';

/** What to add or move, what it makes of the error, and of where there is a position. */
export function advice(
  { kind, for: isFor, anchor, to, before, after }: Suggestion,
  bounds: Bounds,
): readonly [what: string, ...why: string[]] {
  const what = kind === 'add' ? 'add an anchor at' : `move ${anchor} to`;
  const gain = Math.round(100 * (1 - after.meanErrorM / before.meanErrorM));
  return [
    `${isFor === 'reserve' ? 'in case an anchor fails, ' : ''}${what} [${to.x}, ${to.y}, ${to.z}], ${described(bounds, to)}:`,
    `mean error, facing the worst way: ${errorWords(before.meanErrorM)} to ${errorWords(after.meanErrorM)}${gain > 0 ? ` (${gain} % less)` : ''};`,
    `a position on ${percent(before.positionShare)} to ${percent(after.positionShare)} of the stage,`,
    `and 3 anchors in view, whichever one of them all fails, on ${percent(before.reserveShare)} to ${percent(after.reserveShare)}`,
  ];
}

export const NO_ADVICE =
  'nothing: adding or moving one anchor does not lower the mean error, facing the worst way, by more than 3 %, nor keep 3 in view on 5 % more of the stage when one fails';

/** Of the height of the shoulders, metres: nobody wears a tracker at the same height every evening. */
const NEAR_SHOULDERS_M = 0.05;

/** Where a few centimetres decide whether the trunk hides the anchors or the head does; nothing where nobody wears it there. */
export function shoulderAdvice(wearers: readonly WearerOptions[]): string[] {
  const near = wearers.filter(
    ({ heightM, wornAtM }) => Math.abs(wornAtM - BODY.shoulders * heightM) <= NEAR_SHOULDERS_M,
  );
  if (near.length === 0) return [];
  const [{ heightM }] = near as [WearerOptions];
  const who = near.flatMap(({ label }) => (label === undefined ? [] : [label]));
  const whose = who.length === 0 ? '' : `${enumerated(who, 4)}: `;
  const shouldersM = (BODY.shoulders * heightM).toFixed(2);
  return [
    `${whose}the tracker is worn within 5 cm of the shoulders (0.82 of the height: ${shouldersM} of ${heightM.toFixed(2)} m). Below them the trunk hides it, above them the head, so the figures change abruptly there: plan with a wornAt on either side, and wear the tracker where the result is better.`,
  ];
}

export const RIGGING_CAUTION =
  "Hanging anchors is rigging: where and how is for the venue's safety staff and riggers to decide.";

function errorWords(valueM: number): string {
  return Number.isFinite(valueM) ? `${valueM.toFixed(2)} m` : 'no position';
}
