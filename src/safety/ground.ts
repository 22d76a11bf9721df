import { type FallbackChannel, readRaw, writeRaw } from './fallback.js';
import { MOST_SLOTS, type OutputLimiter } from './output-limiter.js';
import { fall, rise } from './ramp.js';

/**
 * The desk's levels under ours. Slots without a fixture of ours pass as the desk sends them, and so do channels that
 * belong to the desk; others take their safe values from the desk, or are scaled by it. This file also decides what
 * happens when the desk is gone: the ground is what to use, whether the desk is there or not.
 */
export interface GroundUniverse {
  /** Index of the input in the show. */
  readonly input: number;
  /** Index of the universe that lies on it, and of its first slot in the levels of all universes. */
  readonly universe: number;
  readonly firstSlot: number;
  /** Its levels when the desk is gone: the last ones, or this share of full. */
  readonly gone: 'hold' | number;
  /** Time from the desk's levels to those, and back, seconds. */
  readonly fadeS: number;
  /** Slots without a fixture, in the levels of all universes. */
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

/** The ground before a reload, a crash or an outage that the light goes on from: held until the desk is heard, or known to be gone. */
export interface GroundBefore {
  /** 512 slots. */
  readonly levels: Uint8Array;
  /** How much longer to wait for the desk, seconds. */
  waitsS: number;
}

/** E1.31 6.7.1: a desk that is there sends within this time. */
const HEARD_WITHIN_S = 2.5;

export interface Ground {
  readonly universes: readonly GroundUniverse[];
  /** For all universes: the desk's levels to use in this beat. */
  readonly levels: Uint8Array;
  /** Of each universe, how far it has gone from the desk's levels to those without it, 0..1. */
  readonly gone: Float64Array;
  /** Some channels are scaled by the desk: what is sent then differs from what we ask. */
  readonly scales: boolean;
  /** For each universe, the ground before, until its desk is heard. */
  readonly before: (GroundBefore | undefined)[];
  /** Of what it was made last: see `stepGround`. */
  readonly seen: { changes: number; share: number; safeLook: Uint8Array | undefined }[];
  /** Rows of the output limiter, by the first slot of each channel. */
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
    before: universes.map(() => undefined),
    seen: universes.map(() => ({ changes: -1, share: Number.NaN, safeLook: undefined })),
    rows: undefined,
  };
}

/**
 * One beat. A universe that has never been heard stays as it was before or, without that, as created: `levels`, and
 * safe values of the show.
 * @param heardOf by index of the input
 * @param safeLook the show's, in the present cue
 * @param isOut whether nothing of a universe can be sent: its ground stays until something can
 */
export function stepGround(
  ground: Ground,
  heardOf: (input: number) => DeskUniverse | undefined,
  safeLook: Uint8Array,
  dtS: number,
  isOut: (universe: number) => boolean = () => false,
): void {
  const { universes, levels, gone, seen, before } = ground;
  for (let i = 0; i < universes.length; i++) {
    const universe = universes[i] as GroundUniverse;
    const heard = heardOf(universe.input);
    if (isOut(universe.universe)) {
      // If the desk is already gone, its fade goes on as it was.
      if (before[i] === undefined && gone[i] === 0) {
        goOnFrom(ground, i, levels, universe.firstSlot);
      }
      continue;
    }
    const isHeard = heard?.isHeard === true;
    const last = seen[i] as Ground['seen'][number];
    if (isHeard && before[i] !== undefined) {
      before[i] = undefined;
      last.changes = Number.NaN;
    }
    const was = before[i];
    if (was !== undefined && was.waitsS > 0) {
      was.waitsS -= dtS;
      gone[i] = 0;
    } else gone[i] = goneShare(gone[i] as number, isHeard, universe.fadeS, dtS);
    const share = gone[i] as number;
    const changes = heard?.changes ?? -1;
    if (last.changes === changes && last.share === share && last.safeLook === safeLook) continue;
    Object.assign(last, { changes, share, safeLook });
    const desk = was?.levels ?? (heard?.everHeard === true ? heard.levels : undefined);
    layUniverse(universe, desk, levels, { share, safeLook });
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
 * Before the limits: puts what belongs to the desk over the levels of some universes. A channel that rests at the
 * desk's own level moves with it from now on, and no limit holds it.
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

/** After the limits, which apply to what we ask: scales channels by the desk's levels. @param wire what is sent, at first the same as `out` */
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
      const ours = readRaw(channel, out);
      writeRaw(channel, Math.round(darkRaw + shareOf(channel, levels) * (ours - darkRaw)), wire);
    }
  }
}

/** Goes on from these levels of all universes: they stay until the desk is heard, or known to be gone. */
export function goOnFrom(
  ground: Ground,
  index: number,
  levels: Uint8Array,
  firstSlot: number,
): void {
  const { firstSlot: to } = ground.universes[index] as GroundUniverse;
  const own = levels.slice(firstSlot, firstSlot + SLOTS_PER_UNIVERSE);
  ground.before[index] = { levels: own, waitsS: HEARD_WITHIN_S };
  ground.levels.set(own, to);
}

/** What was asked, from what was sent: the reverse of {@link scaleByGround}. @param out of all universes */
export function unscaleByGround(
  { universes, levels }: Ground,
  out: Uint8Array,
  which?: readonly boolean[],
): void {
  for (const { universe, scale } of universes) {
    if (which?.[universe] === false) continue;
    for (const channel of scale) {
      const { darkRaw } = channel;
      const share = shareOf(channel, levels);
      // From 0 it may have been anything: take its safe value, where it is going next.
      const asked =
        share > 0 ? darkRaw + (readRaw(channel, out) - darkRaw) / share : channel.safeRaw;
      writeRaw(channel, Math.round(Math.min(maxRawOf(channel), Math.max(0, asked))), out);
    }
  }
}

/** Share of the desk's level, from dark to full. */
function shareOf(channel: FallbackChannel, levels: Uint8Array): number {
  const { darkRaw } = channel;
  return Math.max(0, (readRaw(channel, levels) - darkRaw) / (fullRawOf(channel) - darkRaw));
}

/** An inverted dimmer is full at 0. */
export function fullRawOf(channel: FallbackChannel): number {
  const maxRaw = maxRawOf(channel);
  return channel.darkRaw * 2 <= maxRaw ? maxRaw : 0;
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

/** A wheel has nothing between two values: it keeps the desk's value until the end of the fade. */
function between({ stepped }: FallbackChannel, raw: number, end: number, share: number): number {
  if (stepped) return share === 1 ? end : raw;
  return Math.round(raw + share * (end - raw));
}

function maxRawOf({ slots }: FallbackChannel): number {
  return 256 ** slots.length - 1;
}
