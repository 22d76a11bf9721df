import { paragraphs } from '../drawing/page.js';
import { enumerated } from '../stage/enumerated.js';

/** What a plan can't show: the names behind its numbers, and fixtures without a place. */
export function besidePlan(
  numbered: readonly string[],
  unplaced: readonly { readonly label: string }[],
): string[] {
  const labels = unplaced.map(({ label }) => label);
  return paragraphs([
    ...(numbered.length > 0 ? [`Numbers: ${numbered.join('; ')}.`] : []),
    ...(labels.length > 0
      ? [`Not on the plan, because the show gives no position: ${enumerated(labels, 60)}.`]
      : []),
  ]);
}
