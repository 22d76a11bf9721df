import type { Bounds } from '../stage/vector.js';
import { described, percent } from './rules.js';
import type { Suggestion } from './suggest.js';

/** What to add or move, what it makes of the error, and of where there is a position. */
export function advice(
  { kind, anchor, to, before, after }: Suggestion,
  bounds: Bounds,
): readonly [what: string, ...why: string[]] {
  const what = kind === 'add' ? 'add an anchor at' : `move ${anchor} to`;
  const gain = Math.round(100 * (1 - after.meanErrorM / before.meanErrorM));
  return [
    `${what} [${to.x}, ${to.y}, ${to.z}], ${described(bounds, to)}:`,
    `mean error, facing the worst way: ${errorWords(before.meanErrorM)} to ${errorWords(after.meanErrorM)} (${gain} % less);`,
    `a position on ${percent(before.positionShare)} to ${percent(after.positionShare)} of the stage`,
  ];
}

export const NO_ADVICE =
  'nothing: no one anchor added or moved takes more than 3 % off the mean error, facing the worst way. Anchors in reserve are not weighed here: plan a copy with one more, and compare';

export const RIGGING_CAUTION =
  "Hanging anchors is rigging: where and how is for the venue's safety staff and riggers to decide.";

function errorWords(valueM: number): string {
  return Number.isFinite(valueM) ? `${valueM.toFixed(2)} m` : 'no position';
}
