import { beginGate, type GatedFixture, isClear, type PlacedGate, placeGates } from './beam-gate.js';
import type { FallbackChannel } from './fallback.js';
import {
  beginFlashBeat,
  createFlashLimit,
  DEFAULT_FLASH,
  type FlashLimit,
  limitFlash,
  settleFlash,
} from './flash.js';

/**
 * The last gate before the wire, where all states meet: start, live, loss, recovery, stop. Whatever levels come in,
 * each channel moves no faster than its limit, and the lamps together flash no more often than allowed. A channel of
 * several slots moves as one value: with coarse and fine limited apart it would jump.
 */
export interface LimitOptions {
  /** Shortest time in which a channel may go through its whole range, seconds. */
  readonly intensityS: number;
  readonly movementS: number;
  readonly otherS: number;
  /** Flashes a second over all fixtures, 1 to 3. */
  readonly flashesPerSecond: number;
}

/**
 * Common practice. A tenth of a second is four packets: a cue that snaps is still a snap, and the shortest
 * fade that a show may declare is not hindered. For movement a quarter: no head is as fast (full travel
 * takes 1 to 4 s), and a move in the dark over the usual second has its greatest speed, 1.5 ranges a
 * second, well below 4.
 */
export const DEFAULT_LIMITS: LimitOptions = {
  intensityS: 0.1,
  movementS: 0.25,
  otherS: 0.1,
  flashesPerSecond: DEFAULT_FLASH.perSecond,
};
/** One packet at 40 a second: shorter would be no limit. */
export const SHORTEST_RANGE_S = 0.025;

/**
 * Nobody asks for more than a head can do: the quarter above that is for early or late beats, and for the steps of a
 * coarse channel.
 */
const SPARE_SPEED = 1.25;

/** A DMX512 universe (E1.11); levels of several lie one after the other. */
const SLOTS_PER_UNIVERSE = 512;
/** Slots of the longest channel: 32 bits. */
export const MOST_SLOTS = 4;
/** A beat that comes late moves the light by no more than this, seconds: two packets at 40 a second. */
const LONGEST_BEAT_S = 0.05;

/** Everything in flat arrays, one row for each channel: this runs over all channels of the house in each beat. */
export interface OutputLimiter {
  readonly count: number;
  /** MOST_SLOTS for each channel, the last `widths[c]` of them used. */
  readonly slots: Int32Array;
  readonly widths: Uint8Array;
  /** Index of the universe of each, in the order of the levels; channels lie in the order of universes. */
  readonly universe: Int32Array;
  /** Raw steps a second; Infinity for stepped channels. */
  readonly rates: Float64Array;
  /** Where each channel is, raw; with fractions, so that a slow limit on a coarse channel works. */
  readonly at: Float64Array;
  /** A hazardous channel may go towards this raw value at once; -1: no such value. */
  readonly dropTo: Float64Array;
  /** Index into the flash limit, -1 if it is no intensity. */
  readonly lamp: Int32Array;
  /** Raw value of dark, and from dark to full with its sign, for each channel. */
  readonly dark: Float64Array;
  readonly span: Float64Array;
  readonly flash: FlashLimit;
  /** Heads that may not shine everywhere. */
  readonly gates: readonly PlacedGate[];
  /** For each channel 1 while it belongs to the desk: nothing that the desk does is held back. Written by `layGround`. */
  readonly free: Uint8Array;
  /** For each channel 1 if it is scaled by the desk's level. */
  readonly shares: Uint8Array;
  /** Channels that the rate limit held back in this beat. */
  slowed: number;
  /** Heads that were to be lit, but that a gate kept dark in this beat. */
  keptDark: number;
}

/**
 * @param start levels of all universes with which the stream begins: the safe look
 * @param gated fixtures of these channels; some may have a gate
 */
export function createOutputLimiter(
  channels: readonly FallbackChannel[],
  start: Uint8Array,
  options: LimitOptions = DEFAULT_LIMITS,
  gated: readonly GatedFixture<FallbackChannel>[] = [],
): OutputLimiter {
  const count = channels.length;
  const inOrder = [...channels].sort((a, b) => universeOf(a) - universeOf(b));
  const slots = new Int32Array(count * MOST_SLOTS);
  const widths = new Uint8Array(count);
  const universe = new Int32Array(count);
  const rates = new Float64Array(count);
  const at = new Float64Array(count);
  const dropTo = new Float64Array(count).fill(-1);
  const lamp = new Int32Array(count).fill(-1);
  const dark = new Float64Array(count);
  const span = new Float64Array(count);
  const lamps: number[] = [];
  inOrder.forEach((channel, c) => {
    const width = Math.min(MOST_SLOTS, channel.slots.length);
    widths[c] = width;
    universe[c] = universeOf(channel);
    channel.slots.slice(0, width).forEach((slot, k) => {
      slots[c * MOST_SLOTS + k] = slot;
    });
    const maxRaw = 256 ** width - 1;
    const own = (channel.motion?.speed ?? Number.POSITIVE_INFINITY) * SPARE_SPEED;
    const most = Math.min(own, maxRaw / rangeS(channel, options));
    const isDesks = channel.ground === 'desk';
    rates[c] = channel.stepped || isDesks ? Number.POSITIVE_INFINITY : most;
    if (channel.dropsAtOnce) dropTo[c] = channel.safeRaw;
    at[c] = read(slots, widths, c, start);
    if (channel.class !== 'intensity') return;
    dark[c] = channel.darkRaw;
    // An inverted dimmer is full at 0.
    span[c] = channel.darkRaw * 2 <= maxRaw ? maxRaw - channel.darkRaw : -channel.darkRaw;
    // Flashes made at the desk are not counted.
    if (isDesks) return;
    lamp[c] = lamps.push(c) - 1;
  });
  const flash = createFlashLimit(
    lamps.length,
    i => {
      const c = lamps[i] as number;
      return ((at[c] as number) - (dark[c] as number)) / (span[c] as number);
    },
    { perSecond: options.flashesPerSecond },
  );
  const rows = new Map(inOrder.map((channel, c) => [channel, c]));
  const gates = placeGates(gated, channel => rows.get(channel) as number);
  for (const placed of gates) beginGate(placed, at, dark);
  return {
    ...{ count, slots, widths, universe, rates, at, dropTo, lamp, dark, span, flash },
    gates,
    free: new Uint8Array(count),
    shares: Uint8Array.from(inOrder, ({ ground }) => (ground === 'scale' ? 1 : 0)),
    slowed: 0,
    keptDark: 0,
  };
}

function universeOf({ slots }: FallbackChannel): number {
  return Math.floor((slots[0] ?? 0) / SLOTS_PER_UNIVERSE);
}

function rangeS(channel: FallbackChannel, options: LimitOptions): number {
  const seconds =
    channel.class === 'intensity'
      ? options.intensityS
      : channel.class === 'movement'
        ? options.movementS
        : options.otherS;
  return Math.max(SHORTEST_RANGE_S, seconds);
}

/** What happens to a universe in this beat. */
export const LEAVES = 0;
/** Nothing of it can be sent: it stays where it is. */
export const STAYS = 1;
/** The last beat could not be sent either: it is where it was when last sent. */
export const GOES_BACK = 2;

/** What can't be sent, because of a cable that is out, a firewall, or a full network queue. */
export interface CutOff {
  /** For each universe {@link LEAVES}, {@link STAYS} or {@link GOES_BACK}. */
  readonly universes: Uint8Array;
  /** Levels of all universes as really sent; known for a universe that goes back. */
  readonly sent: Uint8Array;
}

/** Once a beat, before the levels. @param nowS monotonic seconds */
export function beginLimiterBeat(limiter: OutputLimiter, nowS: number): void {
  limiter.slowed = 0;
  limiter.keptDark = 0;
  beginFlashBeat(limiter.flash, nowS);
}

/**
 * One beat of some universes; each of them once in a beat.
 * @param levels of all universes as they would be sent; overwritten with what may be sent
 * @param dtS seconds since the last beat, at least 0
 * @param from first channel, and the one after the last; see `firstChannel`
 * @param cutOff universes that can't be sent stay where they were when last sent, and go on from there, so that a
 *   cable that is put back, or a firewall that opens, makes no jump
 */
export function limitOutput(
  limiter: OutputLimiter,
  levels: Uint8Array,
  dtS: number,
  from: number,
  end: number,
  cutOff?: CutOff,
): void {
  const { slots, widths, universe, rates, at, dropTo, lamp, dark, span, flash, free, shares } =
    limiter;
  const beatS = Math.min(dtS, LONGEST_BEAT_S);
  for (let c = from; c < end; c++) {
    const asked = read(slots, widths, c, levels);
    const before = at[c] as number;
    const way = cutOff?.universes[universe[c] as number] ?? LEAVES;
    // For a scaled channel it is known what was sent, but not what it was scaled from.
    if (way === GOES_BACK && cutOff !== undefined && shares[c] === 0) {
      const left = read(slots, widths, c, cutOff.sent);
      // Fractions of a slow limit are kept if their rounded value is what was sent.
      if (Math.round(before) !== left) at[c] = left;
      write(slots, widths, c, left, levels);
      continue;
    }
    if (way !== LEAVES) {
      write(slots, widths, c, Math.round(before), levels);
      continue;
    }
    const which = lamp[c] as number;
    if (free[c] === 1) {
      at[c] = asked;
      if (which >= 0) {
        settleFlash(flash, which, (asked - (dark[c] as number)) / (span[c] as number));
      }
      continue;
    }
    if (asked === before && which < 0) continue;
    let raw = asked;
    const most = (rates[c] as number) * beatS;
    const step = raw - before;
    if (step > most) raw = before + most;
    else if (step < -most) raw = before - most;
    const drop = dropTo[c] as number;
    // Nothing holds a hazardous output on its way to its safe value.
    if (drop >= 0 && Math.abs(asked - drop) < Math.abs(before - drop)) raw = asked;
    if (raw !== asked) limiter.slowed += 1;
    if (which >= 0) {
      const base = dark[c] as number;
      const full = span[c] as number;
      const share = (raw - base) / full;
      raw = base + full * limitFlash(flash, which, share, (asked - base) / full);
    }
    at[c] = raw;
    const rounded = Math.round(raw);
    if (rounded !== asked) write(slots, widths, c, rounded, levels);
  }
  for (const placed of limiter.gates) {
    if (placed.pan >= from && placed.pan < end) shut(limiter, placed, levels, beatS);
  }
}

/** Last of all, because limits move pan, tilt and zoom too: a head whose beam touches is made dark, and goes on from there. */
function shut(limiter: OutputLimiter, placed: PlacedGate, levels: Uint8Array, beatS: number): void {
  const { slots, widths, at, dark } = limiter;
  const { pan, tilt, zoom, lamps } = placed;
  const zoomed = zoom < 0 ? 0 : read(slots, widths, zoom, levels);
  const [panned, tilted] = [read(slots, widths, pan, levels), read(slots, widths, tilt, levels)];
  placed.holds = false;
  if (isClear(placed, panned, tilted, zoomed, beatS)) return;
  placed.holds = isLit(limiter, lamps);
  if (placed.holds) limiter.keptDark += 1;
  for (const c of lamps) {
    const base = dark[c] as number;
    at[c] = base;
    write(slots, widths, c, base, levels);
  }
}

/** Lit if any of its lamps is, and none of its dimmers is at dark. */
function isLit({ at, dark, span }: OutputLimiter, lamps: readonly number[]): boolean {
  let any = false;
  for (const c of lamps) {
    if (Math.round(at[c] as number) !== dark[c]) any = true;
    else if (span[c] !== 0) return false;
  }
  return any;
}

/** Where each lamp of the flash limit has its first slot, in the levels of all universes. */
export function lampSlots({ lamp, slots, flash }: OutputLimiter): readonly number[] {
  const first = new Array<number>(flash.count).fill(0);
  lamp.forEach((which, c) => {
    if (which >= 0) first[which] = slots[c * MOST_SLOTS] as number;
  });
  return first;
}

/** The first channel from a universe on. */
export function firstChannel({ universe, count }: OutputLimiter, index: number): number {
  let c = 0;
  while (c < count && (universe[c] as number) < index) c += 1;
  return c;
}

/** One beat of all universes. */
export function stepOutputLimiter(
  limiter: OutputLimiter,
  levels: Uint8Array,
  dtS: number,
  nowS: number,
  cutOff?: CutOff,
): void {
  beginLimiterBeat(limiter, nowS);
  limitOutput(limiter, levels, dtS, 0, limiter.count, cutOff);
}

function read(slots: Int32Array, widths: Uint8Array, c: number, levels: Uint8Array): number {
  const from = c * MOST_SLOTS;
  let raw = levels[slots[from] as number] as number;
  const width = widths[c] as number;
  for (let k = 1; k < width; k++) raw = raw * 256 + (levels[slots[from + k] as number] as number);
  return raw;
}

function write(
  slots: Int32Array,
  widths: Uint8Array,
  c: number,
  raw: number,
  levels: Uint8Array,
): void {
  const from = c * MOST_SLOTS;
  let rest = raw;
  for (let k = (widths[c] as number) - 1; k >= 0; k--) {
    levels[slots[from + k] as number] = rest & 0xff;
    rest >>>= 8;
  }
}
