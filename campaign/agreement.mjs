// Whether two receivers on the same wire have seen the same light.
import { median } from './measures.mjs';

/** A tenth of a second. */
const MOST_ON_THE_WAY = 4;

const same = (a, b) => a.length === b.length && a.every((level, slot) => level === b[slot]);

/** Looks of a stream one after the other, each once and when it came first. */
function looks(packets, protocol) {
  const found = [];
  for (const packet of packets) {
    if (packet.protocol !== protocol || packet.terminated) continue;
    if (found.length === 0 || !same(found.at(-1).slots, packet.slots)) found.push(packet);
  }
  return found;
}

/**
 * Compares what another receiver recorded, whose clock begins anywhere, with our capture.
 * @returns { seen, of: looks of ours that it has too, in order, and how many they are; foreign: those that only it
 *   has; onOurClock: its packets by our clock }
 */
export function agreement(ours, theirs) {
  let [seen, of, foreign] = [0, 0, 0];
  const apartS = [];
  for (const protocol of ['sacn', 'artnet']) {
    const [mine, other] = [looks(ours, protocol), looks(theirs, protocol)];
    of += mine.length;
    let next = 0;
    for (const look of other) {
      let at = next;
      while (at < mine.length && !same(mine[at].slots, look.slots)) at += 1;
      if (at === mine.length) {
        foreign += 1;
        continue;
      }
      seen += 1;
      apartS.push(mine[at].atS - look.atS);
      next = at + 1;
    }
    // The last may still have been on their way when the other was ended.
    if (mine.length - next <= MOST_ON_THE_WAY) of -= mine.length - next;
  }
  const offsetS = apartS.length === 0 ? Number.NaN : median(apartS);
  const onOurClock = theirs.map(packet => ({ ...packet, atS: packet.atS + offsetS }));
  return { seen, of, foreign, onOurClock };
}
