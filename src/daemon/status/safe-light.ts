import { attributeClass } from '../../fixtures/attributes.js';
import { readRaw, toRaw } from '../../fixtures/encode.js';
import { mappingsOf, performersOf } from '../../show/model/basis.js';
import type { FixturePlan, Show } from '../../show/model/model.js';

/** What the loss of all who are on stage comes to in one cue. */
interface SafeLight {
  /** Every fixture is at its safe values, or on its way there, or dark as in the safe look. */
  readonly isWhole: boolean;
  /** Labels of fixtures that it leaves as they are, but for those that are dark, as in the safe look. */
  readonly leftAlone: readonly string[];
}

/**
 * A performer who drives nothing in a cue does not matter in it: a fixture that nobody on stage drives there stays as it is.
 * @param cue index of the one that is on; the show may have none
 * @param off indices of those off stage
 * @param stopOfEverybody it takes light without a performer too, if anything acts on it in the cue
 * @param sent levels of all universes as last sent; undefined where that is not known
 */
export function safeLightOf(
  show: Show,
  cue: number,
  off: ReadonlySet<number>,
  stopOfEverybody: boolean,
  sent: Readonly<Uint8Array> | undefined,
): SafeLight {
  const levels = show.cues[cue]?.levels;
  const leftAlone: string[] = [];
  let isWhole = true;
  for (const [index, plan] of show.fixtures.entries()) {
    const { label, hazards } = plan;
    const takes = mappingsOf(show.mappings, index)
      .filter(of => (levels?.[of] ?? (levels === undefined ? 1 : 0)) > 0)
      .map(of => {
        const mapping = show.mappings[of];
        const drivers = mapping === undefined ? [] : performersOf(show, mapping);
        return drivers.length === 0 ? stopOfEverybody : drivers.some(one => !off.has(one));
      });
    if (takes.length > 0 && takes.every(one => one)) continue;
    const isOrdinary = hazards.every(one => one === 'ordinary');
    const safe = show.cues[cue]?.safe[index] ?? plan.safe;
    if (isOrdinary && sent !== undefined && isDarkAsSafe(plan, safe, sent)) continue;
    isWhole = false;
    // A hazardous output depends on its enable, whatever drives it.
    if (takes.includes(true) || !isOrdinary) continue;
    leftAlone.push(label);
  }
  return { isWhole, leftAlone };
}

/** It gives no light, and in the safe look neither; what the desk drives may come up any moment. */
function isDarkAsSafe(
  { profile, ground, firstSlot }: FixturePlan,
  safe: ArrayLike<number>,
  sent: Readonly<Uint8Array>,
): boolean {
  const { channels, virtualDimmer } = profile;
  const levels = sent.subarray(firstSlot, firstSlot + profile.footprint);
  const isAtZero = (c: number) => {
    const channel = channels[c];
    return channel !== undefined && readRaw(channel, levels, 0) === toRaw(channel, 0);
  };
  // A virtual dimmer has no slots: it is closed while all that it dims is at 0.
  const isClosed = (c: number) =>
    c === virtualDimmer ? channels.every((one, k) => !one.dimmed || isAtZero(k)) : isAtZero(c);
  return channels.some(
    ({ attribute }, c) =>
      attributeClass(attribute) === 'intensity' &&
      ground[c] === 'ours' &&
      safe[c] === 0 &&
      isClosed(c),
  );
}
