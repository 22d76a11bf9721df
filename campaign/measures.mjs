// What the independent receiver has recorded, as figures.
import { DEFAULT_LIMITS } from '../dist/safety/output-limiter.js';
import { HOSTS } from './hosts.mjs';
import { CHANNELS } from './show.mjs';

/** Seconds. A beat may be cut short or long by the machine; the limits count no more than two beats. */
const BEAT_S = 0.025;
const LONGEST_BEAT_S = 0.05;
const JITTER_S = 0.01;
const RANGE_S = {
  intensity: DEFAULT_LIMITS.intensityS,
  movement: DEFAULT_LIMITS.movementS,
  other: DEFAULT_LIMITS.otherS,
};

const raw = (slots, channel) => channel.slots.reduce((sum, slot) => sum * 256 + slots[slot], 0);
const rangeOf = channel => 256 ** channel.slots.length - 1;
const streamOf = ({ protocol, universe }) => `${protocol} ${universe}`;

/**
 * What a receiver shows: of sACN the highest priority among those heard within 2.5 s (E1.31 6.2.3,
 * 6.7.1); of Art-Net the last.
 */
export function shown(packets) {
  const sources = new Map();
  const out = [];
  for (const packet of packets) {
    if (packet.protocol === 'artnet') {
      out.push(packet);
      continue;
    }
    const key = `${packet.universe} ${packet.source}`;
    if (packet.terminated) sources.delete(key);
    else sources.set(key, packet);
    const there = [...sources.values()].filter(
      one => one.universe === packet.universe && packet.atS - one.atS <= 2.5,
    );
    const best = there.sort((a, b) => b.priority - a.priority)[0];
    if (best !== undefined) out.push({ ...best, atS: packet.atS });
  }
  return out;
}

/** When all the light of some was at its safe values first, after a moment; undefined: never. */
export function safeAt(packets, safe, fromS, whose) {
  const mine = CHANNELS.filter(channel => whose === undefined || whose.includes(channel.whose));
  const latest = new Map();
  for (const packet of packets) {
    latest.set(streamOf(packet), packet);
    if (packet.atS < fromS) continue;
    const isSafe = mine.every(channel => {
      const slots = latest.get(streamOf(channel))?.slots;
      return channel.slots.every(slot => slots?.[slot] === safe[channel.universe][slot]);
    });
    if (isSafe) return packet.atS;
  }
  return undefined;
}

/**
 * Greatest step between two packets, as a share of the channel's range, and of what its limit allows.
 * `beyond` has each that is greater than its limit, and between which packets. overGaps: whether a step over a gap counts; waited: packets waited on the way and come at once, so that
 * each counts as a beat after the one before.
 */
export function greatestStep(packets, fromS, toS, { overGaps, waited }) {
  const before = new Map();
  const worst = { intensity: 0, movement: 0, other: 0, ofLimit: 0, where: '', beyond: [] };
  for (const packet of packets) {
    const last = before.get(streamOf(packet));
    before.set(streamOf(packet), packet);
    if (last === undefined || packet.atS < fromS || packet.atS > toS) continue;
    // Unchanged levels come each second; what is longer is a gap.
    if (!overGaps && packet.atS - last.atS > 1.1) continue;
    const apartS = Math.max(packet.atS - last.atS, waited ? BEAT_S : 0);
    const beatS = Math.min(apartS + JITTER_S, LONGEST_BEAT_S);
    for (const channel of CHANNELS) {
      if (streamOf(channel) !== streamOf(packet)) continue;
      const share =
        Math.abs(raw(packet.slots, channel) - raw(last.slots, channel)) / rangeOf(channel);
      if (share > worst[channel.kind]) worst[channel.kind] = share;
      // Rounding to whole steps on either side.
      const most = beatS / RANGE_S[channel.kind] + 1 / rangeOf(channel);
      const where = () =>
        `${channel.protocol} ${channel.universe}/${channel.slots[0] + 1} at ${(packet.atS - fromS).toFixed(2)} s`;
      if (share > most) {
        const step = { ofLimit: share / most, where: where() };
        worst.beyond.push({ ...step, fromS: last.atS, toS: packet.atS });
      }
      if (share / most > worst.ofLimit) {
        worst.ofLimit = share / most;
        worst.where = where();
      }
    }
  }
  return worst;
}

/** Longest time without a packet of a stream, whoever sends it. */
export function longestGapS(packets, fromS, toS) {
  const lastS = new Map();
  let longest = 0;
  for (const packet of packets) {
    const before = lastS.get(streamOf(packet));
    lastS.set(streamOf(packet), packet.atS);
    if (before === undefined || packet.atS < fromS || packet.atS > toS) continue;
    longest = Math.max(longest, packet.atS - before);
  }
  for (const atS of lastS.values()) longest = Math.max(longest, toS - atS);
  return longest;
}

/** Packets whose number came and went unseen; a source that starts anew counts anew. */
export function lost(packets, fromS, toS) {
  const numbers = new Map();
  let count = 0;
  for (const packet of packets) {
    const key = `${streamOf(packet)} ${packet.source}`;
    const before = numbers.get(key);
    numbers.set(key, packet.sequence);
    if (before === undefined || packet.atS < fromS || packet.atS > toS) continue;
    // Art-Net counts from 1 to 255, sACN from 0.
    const span = packet.protocol === 'artnet' ? 255 : 256;
    const missed = (((packet.sequence - before - 1) % span) + span) % span;
    if (missed < 100) count += missed;
  }
  return count;
}

/** Packets that a receiver has to discard: their numbers are 0 to 19 behind the last (E1.31 6.7.2). */
function discarded(packets) {
  const numbers = new Map();
  let count = 0;
  for (const { protocol, universe, source, sequence } of packets) {
    if (protocol !== 'sacn') continue;
    const key = `${universe} ${source}`;
    const before = numbers.get(key);
    const on = ((sequence - (before ?? sequence - 1)) << 24) >> 24;
    if (on <= 0 && on > -20) count += 1;
    else numbers.set(key, sequence);
  }
  return count;
}

/** One source whose numbers go on, and which nobody ends: what E1.31 asks of a stream, whatever happens. */
export function streamFaults(packets, goesOn, toS) {
  const wrong = [];
  const sacn = packets.filter(
    ({ protocol, from, atS }) => protocol === 'sacn' && from !== HOSTS.lwcb && atS < toS,
  );
  const sources = new Set(sacn.map(({ source }) => source)).size;
  if (sources > 1) wrong.push(`one daemon was ${sources} sources`);
  const late = discarded(sacn);
  if (late > 0) wrong.push(`a receiver discards ${late} packets by their numbers`);
  if (sacn.some(packet => packet.terminated && goesOn(packet))) {
    wrong.push('a stream ended that goes on');
  }
  return wrong;
}

export function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

/** Mulberry32: numbers from 0 to 1 that repeat for a seed. */
export function random(seed) {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}
