import { mappingsOf, performersOf } from '../../show/model/basis.js';
import type { Show } from '../../show/model/model.js';

/** What the loss of all who are on stage comes to in one cue. */
interface SafeLight {
  /** Every fixture is at its safe values, or on its way there. */
  readonly isWhole: boolean;
  /** Labels of fixtures that it leaves as they are. */
  readonly leftAlone: readonly string[];
}

/**
 * Whoever drives nothing in a cue has no say in it: a fixture that nobody on stage drives there stays as it is.
 * @param cue index of the one that is on; the show may have none
 * @param off indices of those off stage
 * @param stopOfEverybody it takes light without a performer too, if anything acts on it in the cue
 */
export function safeLightOf(
  show: Show,
  cue: number,
  off: ReadonlySet<number>,
  stopOfEverybody: boolean,
): SafeLight {
  const levels = show.cues[cue]?.levels;
  const leftAlone: string[] = [];
  let isWhole = true;
  for (const [index, { label, hazards }] of show.fixtures.entries()) {
    const takes = mappingsOf(show.mappings, index)
      .filter(of => (levels?.[of] ?? (levels === undefined ? 1 : 0)) > 0)
      .map(of => {
        const mapping = show.mappings[of];
        const drivers = mapping === undefined ? [] : performersOf(show, mapping);
        return drivers.length === 0 ? stopOfEverybody : drivers.some(one => !off.has(one));
      });
    if (takes.length > 0 && takes.every(one => one)) continue;
    isWhole = false;
    // A hazardous output depends on its enable, whatever drives it.
    if (takes.includes(true) || hazards.some(one => one !== 'ordinary')) continue;
    leftAlone.push(label);
  }
  return { isWhole, leftAlone };
}
