import { type FallbackChannel, readRaw, writeRaw } from './fallback.js';
import { MOST_SLOTS, type OutputLimiter } from './output-limiter.js';
import { fall, rise } from './ramp.js';

/**
 * The desk's levels under ours. Slots that no fixture of ours has pass as the desk sends them, and so do channels that are the desk's;
 * others take their safe values from there, or are a share of it. What becomes of all that when the desk is gone stands here too: the
 * ground is what is to be used of it, whether the desk is there or not.
 */
export interface GroundUniverse {
  /** Place of the input among those of the show. */
  readonly input: number;
  /** Index of the universe that lies on it, and of its first slot in the levels of all universes. */
  readonly universe: number;
  readonly firstSlot: number;
  /** What its levels are when the desk is gone: the last, or this share of full. */
  readonly gone: 'hold' | number;
  /** From the desk's levels to those, and back, seconds. */
  readonly fadeS: number;
  /** Slots that no fixture has, in the levels of all universes. */
  readonly freeSlots: Int32Array;
  readonly desk: readonly FallbackChannel[];
  readonly safe: readonly GroundedFixture[];
  readonly scale: readonly FallbackChannel[];
}

export interface GroundedFixture {
  /** Index in the fallback plan. */
  readonly fixture: number;
  readonly channels: readonly FallbackChannel[];
}

/** One universe of the desk, as it is heard. */
export interface DeskUniverse {
  readonly levels: Uint8Array;
  readonly changes: number;
  readonly isHeard: boolean;
  readonly everHeard: boolean;
}

export interface Ground {
  readonly universes: readonly GroundUniverse[];
  /** Of all universes: what is to be used of the desk in this beat. */
  readonly levels: Uint8Array;
  /** Of each universe, how far it has gone from the desk's levels to those without it, 0..1. */
  readonly gone: Float64Array;
  /** Some channels are a share of the desk's: what is sent is another thing than what we ask. */
  readonly scales: boolean;
  /** Of what it was made last: see `stepGround`. */
  readonly seen: { changes: number; share: number; safeLook: Uint8Array | undefined }[];
  /** Rows of a limiter, by the first slot of each channel. */
  rows:
    | { readonly limiter: OutputLimiter; readonly bySlot: ReadonlyMap<number, number> }
    | undefined;
}

/** @param levels of all universes: kept up to date from now on, also as `FallbackPlan.ground` */
export function createGround(universes: readonly GroundUniverse[], levels: Uint8Array): Ground {
  return {
    universes,
    levels,
    gone: new Float64Array(universes.length).fill(Number.NaN),
    scales: universes.some(({ scale }) => scale.length > 0),
    seen: universes.map(() => ({ changes: -1, share: Number.NaN, safeLook: undefined })),
    rows: undefined,
  };
}

/**
 * One beat. A universe that has never been heard is as it was made: `levels`, and safe values of the show.
 * @param heardOf by the place of the input
 * @param safeLook of the show, in the cue that is on
 */
export function stepGround(
  ground: Ground,
  heardOf: (input: number) => DeskUniverse | undefined,
  safeLook: Uint8Array,
  dtS: number,
): void {
  const { universes, levels, gone, seen } = ground;
  for (let i = 0; i < universes.length; i++) {
    const universe = universes[i] as GroundUniverse;
    const heard = heardOf(universe.input);
    const isHeard = heard?.isHeard === true;
    const share = goneShare(gone[i] as number, isHeard, universe.fadeS, dtS);
    gone[i] = share;
    const last = seen[i] as Ground['seen'][number];
    const changes = heard?.changes ?? -1;
    if (last.changes === changes && last.share === share && last.safeLook === safeLook) continue;
    Object.assign(last, { changes, share, safeLook });
    layUniverse(universe, heard?.everHeard === true ? heard.levels : undefined, levels, {
      share,
      safeLook,
    });
  }
}

/** @param share NaN before the first beat: what is found then is no change */
export function goneShare(share: number, isHeard: boolean, fadeS: number, dtS: number): number {
  if (Number.isNaN(share)) return isHeard ? 0 : 1;
  return isHeard ? fall(share, dtS, fadeS) : rise(share, dtS, fadeS);
}

function layUniverse(
  universe: GroundUniverse,
  desk: Uint8Array | undefined,
  levels: Uint8Array,
  { share, safeLook }: { readonly share: number; readonly safeLook: Uint8Array },
): void {
  const { firstSlot, gone, freeSlots } = universe;
  for (const { channels } of universe.safe) {
    for (const channel of channels) {
      const safe = readRaw(channel, safeLook);
      const raw = desk === undefined ? safe : readAt(channel, desk, firstSlot);
      writeRaw(channel, between(channel, raw, safe, share), levels);
    }
  }
  if (gone === 'hold') {
    if (desk === undefined) return;
    for (const slot of freeSlots) levels[slot] = desk[slot - firstSlot] as number;
    for (const channels of [universe.desk, universe.scale]) {
      for (const channel of channels) {
        writeRaw(channel, readAt(channel, desk, firstSlot), levels);
      }
    }
    return;
  }
  const rest = 255 * gone;
  for (const slot of freeSlots) {
    const level = desk?.[slot - firstSlot] ?? rest;
    levels[slot] = Math.round(level + share * (rest - level));
  }
  for (const channel of universe.desk) {
    const safe = readRaw(channel, safeLook);
    const raw = desk === undefined ? safe : readAt(channel, desk, firstSlot);
    writeRaw(channel, between(channel, raw, safe, share), levels);
  }
  for (const channel of universe.scale) {
    const without = Math.round(gone * maxRawOf(channel));
    const raw = desk === undefined ? without : readAt(channel, desk, firstSlot);
    writeRaw(channel, between(channel, raw, without, share), levels);
  }
}

/**
 * Over the levels of some universes, before the limits: what is the desk's. What rests at the desk's own level goes with it from
 * now on, and no limit holds it.
 * @param rests whether a fixture is at its safe values, which are the desk's
 */
export function layGround(
  ground: Ground,
  limiter: OutputLimiter,
  rests: (fixture: number) => boolean,
  out: Uint8Array,
  firstUniverse: number,
  endUniverse: number,
): void {
  const { levels } = ground;
  const rows = rowsOf(ground, limiter);
  for (const { universe, freeSlots, desk, safe } of ground.universes) {
    if (universe < firstUniverse || universe >= endUniverse) continue;
    for (let i = 0; i < freeSlots.length; i++) {
      const slot = freeSlots[i] as number;
      out[slot] = levels[slot] as number;
    }
    for (const channel of desk) copy(channel, levels, out);
    for (const { fixture, channels } of safe) {
      const isFree = rests(fixture);
      for (const channel of channels) {
        if (isFree) copy(channel, levels, out);
        const row = rows.get(channel.slots[0] as number);
        if (row !== undefined) limiter.free[row] = isFree ? 1 : 0;
      }
    }
  }
}

/** After the limits, which are on what we ask: what is a share of the desk's. @param wire what is sent, `out` until now */
export function scaleByGround(
  { universes, levels }: Ground,
  out: Uint8Array,
  wire: Uint8Array,
  firstUniverse: number,
  endUniverse: number,
): void {
  for (const { universe, scale } of universes) {
    if (universe < firstUniverse || universe >= endUniverse) continue;
    for (const channel of scale) {
      const { darkRaw } = channel;
      const maxRaw = maxRawOf(channel);
      // An inverted dimmer is full at 0.
      const fullRaw = darkRaw * 2 <= maxRaw ? maxRaw : 0;
      const share = (readRaw(channel, levels) - darkRaw) / (fullRaw - darkRaw);
      const ours = readRaw(channel, out);
      writeRaw(channel, Math.round(darkRaw + Math.max(0, share) * (ours - darkRaw)), wire);
    }
  }
}

/** Another show goes on from this one's light: what was held of a desk that is gone stays so. */
export function carryGround(
  to: Ground,
  from: Ground,
  inputBefore: (input: number) => number,
): void {
  to.universes.forEach((universe, i) => {
    const before = inputBefore(universe.input);
    const at = from.universes.findIndex(({ input }) => input === before);
    const was = from.universes[at];
    if (was === undefined) return;
    to.gone[i] = from.gone[at] as number;
    const end = was.firstSlot + SLOTS_PER_UNIVERSE;
    to.levels.set(from.levels.subarray(was.firstSlot, end), universe.firstSlot);
  });
}

const SLOTS_PER_UNIVERSE = 512;

function rowsOf(ground: Ground, limiter: OutputLimiter): ReadonlyMap<number, number> {
  if (ground.rows?.limiter === limiter) return ground.rows.bySlot;
  const bySlot = new Map<number, number>();
  for (let c = 0; c < limiter.count; c++) bySlot.set(limiter.slots[c * MOST_SLOTS] as number, c);
  ground.rows = { limiter, bySlot };
  return bySlot;
}

function copy({ slots }: FallbackChannel, from: Uint8Array, to: Uint8Array): void {
  for (let i = 0; i < slots.length; i++) {
    const slot = slots[i] as number;
    to[slot] = from[slot] as number;
  }
}

function readAt({ slots }: FallbackChannel, desk: Uint8Array, firstSlot: number): number {
  let raw = 0;
  for (const slot of slots) raw = raw * 256 + (desk[slot - firstSlot] as number);
  return raw;
}

/** Between two values of a wheel there is nothing: it is the desk's until the end of the way. */
function between({ stepped }: FallbackChannel, raw: number, end: number, share: number): number {
  if (stepped) return share === 1 ? end : raw;
  return Math.round(raw + share * (end - raw));
}

function maxRawOf({ slots }: FallbackChannel): number {
  return 256 ** slots.length - 1;
}
