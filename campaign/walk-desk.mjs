// A desk under the show in a walk (walk.mjs): what no fixture has is the desk's, whatever else happens.
import { COUNT, FREE, UNIVERSE } from './faults-desk.mjs';
import { HOSTS } from './hosts.mjs';
import { at, finding, SPARE_LEVEL } from './walk-deeds.mjs';

/** A level of the desk's is out within a beat; what a machine of two cores may be late by, and the capture, are in it. */
const WITHIN_S = 0.2;
/** A source is gone after 2.5 s (E1.31 6.7.1). */
const GONE_S = 2.5;
/** After the network was out, or the daemon was started again, it has to hear the desk first. */
const SETTLES_S = 4;
const SPARE = Buffer.alloc(16, 'spare').toString('hex');
const MAIN = Buffer.alloc(16, 'main').toString('hex');

/** Each packet of ours has what the leading desk said a moment before, or said last. */
export function deskWrong({ packets, deeds, fromS, toS }) {
  const wrong = [];
  const isOut = atS =>
    deeds.some(
      one =>
        (one.disturbs || one.endsSupervisor || one.reload === 'renamed') &&
        atS > one.fromS - 0.1 &&
        atS < (one.toS ?? toS) + SETTLES_S,
    );
  const said = { [MAIN]: [], [SPARE]: [] };
  let spareSinceS = Number.POSITIVE_INFINITY;
  for (const packet of packets) {
    const { protocol, universe, source, from, atS, slots } = packet;
    if (universe === UNIVERSE && said[source] !== undefined) {
      const list = said[source];
      if (source === SPARE && atS - (list.at(-1)?.atS ?? 0) > 1) spareSinceS = atS;
      list.push({ atS, count: slots[COUNT - 1] });
      while (list.length > 1 && list[1].atS < atS - 2 * WITHIN_S) list.shift();
      continue;
    }
    const isOurs = protocol === 'sacn' && universe === 1 && from === HOSTS.lwca;
    if (!isOurs || packet.terminated || atS < fromS || atS > toS || isOut(atS)) continue;
    const has = source => {
      const list = said[source];
      // What was out when the last that is older came counts as well.
      const i = list.findLastIndex(one => one.atS < atS - WITHIN_S);
      return list.slice(Math.max(0, i)).some(({ count }) => count === slots[COUNT - 1]);
    };
    const spareS = said[SPARE].at(-1)?.atS ?? Number.NEGATIVE_INFINITY;
    const isSpare = slots[FREE - 1] === SPARE_LEVEL && has(SPARE);
    const mayBeMain = atS - spareSinceS < WITHIN_S || atS - spareS > GONE_S - 2 * WITHIN_S;
    const mainS = said[MAIN].at(-1)?.atS ?? Number.NEGATIVE_INFINITY;
    // Where both are silent the level stays that of whoever spoke last.
    const mayBeSpare = atS - spareS < GONE_S + 2 * WITHIN_S || mainS < spareS;
    if ((mayBeSpare && isSpare) || (mayBeMain && has(MAIN))) continue;
    const what = `the desk's level ${slots[COUNT - 1]} ${at({ fromS }, atS)} is none that it has said within ${WITHIN_S} s`;
    wrong.push(finding(what, atS - WITHIN_S, atS));
  }
  return wrong;
}
