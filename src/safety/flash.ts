/**
 * At most three flashes a second over all fixtures together, counted on the intensity sent, whatever asked for it.
 *
 * WCAG 2.2, 2.3.1: a flash is a pair of opposing changes of 10 % or more of the maximum, where the darker
 * of the two is below 0.80; no more than three in any one second. That is a measure for screens. A room is
 * not a screen, and several lamps add up (UK HSE), so it is summed over the fixtures here; what a venue
 * allows may be less, and is not for a program to decide.
 *
 * A fall of light must never be held up: it may be on its way to the safe look. But each pair of opposing
 * changes has a rise in it, so it is enough to ration the rises:
 *  - a rise by less than 10 % over the lowest of the last second is free, and so is one from 0.80 up;
 *  - a steeper one needs a grant. A grant opens a window of a thirtieth of a second in which any number of
 *    fixtures begin to rise: they are one flash to the eye. There are three windows in any second;
 *  - no fixture begins more than three rises of its own in any second, counted from the end of the last;
 *  - a rise that has begun goes on until it rests for a tenth of a second or turns round by 10 %;
 *  - without a grant the level stays just under 10 % above that lowest, and rises when the next window opens: no
 *    faster than what asked for it had risen meanwhile, so that a fade that was held comes late, and still as a fade.
 * So between two grants light is held back or late, but never brighter than asked, and falls pass untouched.
 */
export interface FlashOptions {
  /** Windows in which rises begin, in any second, over all fixtures: 1 to 3. */
  readonly perSecond: number;
}

export const DEFAULT_FLASH: FlashOptions = { perSecond: 3 };
export const MOST_FLASHES_PER_SECOND = 3;

/** Levels go out in steps of 8 bits or finer: with one step of margin, rounding never makes a change count. */
const STEP = 1 / 255;
/** WCAG 2.3.1: a change of a tenth of the maximum counts ... */
const CHANGE = 0.1 - STEP;
/** ... where the darker state is below this. */
const BRIGHT = 0.8 + STEP;
const SECOND_S = 1;
/**
 * Rises that begin this close together are one flash, seconds: the band of risk ends at 30 a second (Epilepsy
 * Society, 3 to 30), and faster changes are seen as one.
 */
const WINDOW_S = 1 / 30;
/** A rise that rests for this long has ended, seconds: less than an 8-bit step in this time is less than 10 % a second. */
const REST_S = 0.1;
/** Number of parts of the last second whose lowest levels are kept apart, so that the oldest can be forgotten. */
const PARTS = 4;
const PART_S = SECOND_S / PARTS;
/** A late beat moves a lamp that is catching up by no more than this, seconds. */
const LONGEST_BEAT_S = 0.05;
/** Longest hold of a single lamp: until the oldest window is over. After its grant a lamp arrives within this time. */
const LONGEST_CATCH_UP_S = SECOND_S + WINDOW_S;
/** And within this time if the wish had already arrived: its movement is then no fade, but noise. */
const ARRIVED_CATCH_UP_S = SECOND_S / 3;
/** How far a lamp may rise without a grant. */
const FREE = CHANGE - 1e-9;

export interface FlashLimit {
  readonly count: number;
  readonly perSecond: number;
  /** Level of each intensity as last sent, 0 = dark, 1 = full. */
  readonly level: Float64Array;
  /** Lowest level of each in the parts of the last second that are over, and in the one that isn't. */
  readonly past: Float64Array;
  readonly present: Float64Array;
  /** Lowest in each part, PARTS for each intensity. */
  readonly parts: Float64Array;
  /** 1 while it may rise freely. */
  readonly rising: Uint8Array;
  /** Highest level of the rise under way, and when it was reached. */
  readonly peak: Float64Array;
  readonly peakS: Float64Array;
  /** Number of the window in which its last rise began. */
  readonly grantedIn: Float64Array;
  /** When its last rises ended, `perSecond` for each, the oldest first. */
  readonly ended: Float64Array;
  /** When the last windows opened, the oldest first. */
  readonly opened: Float64Array;
  /** Number of the last window. */
  windows: number;
  part: number;
  partEndsS: number;
  nowS: number;
  beatS: number;
  /** What was asked of each in the last beat. */
  readonly asked: Float64Array;
  /** While a lamp is held: 1, what was asked just before and when, and the most asked since. */
  readonly holding: Uint8Array;
  readonly heldFrom: Float64Array;
  readonly heldFromS: Float64Array;
  readonly heldTop: Float64Array;
  /** How fast the wish rose while the lamp was held, a second; 0: only the other limits slow it. */
  readonly pace: Float64Array;
  /** 1 while it goes to the wish at that pace. */
  readonly catching: Uint8Array;
  /** When each was last held, monotonic seconds: it goes on at the pace of the wish, late by as much. */
  readonly heldS: Float64Array;
  /** How many lamps are below their wish in this beat, held or on their way up, and how often one has been held since the start. */
  held: number;
  heldEver: number;
}

/** @param count intensities; they begin at what `start` says, 0..1 */
export function createFlashLimit(
  count: number,
  start: (index: number) => number,
  options: FlashOptions = DEFAULT_FLASH,
): FlashLimit {
  const perSecond = Math.max(1, Math.min(MOST_FLASHES_PER_SECOND, Math.floor(options.perSecond)));
  const levels = Float64Array.from({ length: count }, (_, i) => start(i));
  const long = (size: number, value: number) => new Float64Array(size).fill(value);
  return {
    count,
    perSecond,
    level: levels,
    past: Float64Array.from(levels),
    present: Float64Array.from(levels),
    parts: Float64Array.from({ length: count * PARTS }, (_, i) => start(Math.floor(i / PARTS))),
    rising: new Uint8Array(count),
    peak: Float64Array.from(levels),
    peakS: long(count, Number.NEGATIVE_INFINITY),
    grantedIn: long(count, 0),
    ended: long(count * perSecond, Number.NEGATIVE_INFINITY),
    opened: long(perSecond, Number.NEGATIVE_INFINITY),
    windows: 0,
    part: 0,
    partEndsS: Number.NaN,
    nowS: Number.NEGATIVE_INFINITY,
    beatS: 0,
    asked: Float64Array.from(levels),
    holding: new Uint8Array(count),
    heldFrom: long(count, 0),
    heldFromS: long(count, 0),
    heldTop: long(count, 0),
    pace: long(count, 0),
    catching: new Uint8Array(count),
    heldS: long(count, Number.NEGATIVE_INFINITY),
    held: 0,
    heldEver: 0,
  };
}

/** What is known of one lamp besides its level and its ration. */
const ROWS_OF_A_LAMP = [
  'past',
  'present',
  'rising',
  'peak',
  'peakS',
  'asked',
  'holding',
  'heldFrom',
  'heldFromS',
  'heldTop',
  'pace',
  'catching',
  'heldS',
] as const;

/**
 * Goes on with the grants of another limit: a reloaded show, or a light that is taken over, brings no new ration.
 * @param to a limit that has just been made
 * @param lampBefore index of each of its intensities in the other limit; undefined: it is new
 */
export function carryFlash(
  to: FlashLimit,
  from: FlashLimit,
  lampBefore: (index: number) => number | undefined,
): void {
  to.opened.set(newest(from.opened, 0, from.perSecond, to.perSecond));
  to.windows = from.windows;
  to.part = from.part;
  to.partEndsS = from.partEndsS;
  to.nowS = from.nowS;
  for (let i = 0; i < to.count; i++) {
    const j = lampBefore(i);
    if (j === undefined) continue;
    const ended = newest(from.ended, j * from.perSecond, from.perSecond, to.perSecond);
    to.ended.set(ended, i * to.perSecond);
    to.grantedIn[i] = from.grantedIn[j] as number;
    // For a lamp that starts at another level nothing else is known; what was sent is rounded to a step.
    if (Math.abs((to.level[i] as number) - (from.level[j] as number)) > STEP) continue;
    for (const row of ROWS_OF_A_LAMP) to[row][i] = from[row][j] as number;
    to.parts.set(from.parts.subarray(j * PARTS, (j + 1) * PARTS), i * PARTS);
  }
}

/** The last times of a row whose oldest is first, in a row of another length. */
function newest(times: Float64Array, at: number, length: number, wanted: number): Float64Array {
  const row = new Float64Array(wanted).fill(Number.NEGATIVE_INFINITY);
  const kept = Math.min(length, wanted);
  row.set(times.subarray(at + length - kept, at + length), wanted - kept);
  return row;
}

/** Once a beat, before the levels. */
export function beginFlashBeat(limit: FlashLimit, nowS: number): void {
  limit.beatS = Math.min(LONGEST_BEAT_S, Math.max(0, nowS - limit.nowS));
  limit.nowS = nowS;
  limit.held = 0;
  if (Number.isNaN(limit.partEndsS)) limit.partEndsS = nowS + PART_S;
  // After a stall of a second or more everything before it is forgotten in PARTS turns.
  for (let turns = 0; nowS >= limit.partEndsS && turns <= PARTS; turns++) {
    turnPart(limit);
    limit.partEndsS += PART_S;
  }
  if (nowS >= limit.partEndsS) limit.partEndsS = nowS + PART_S;
}

function turnPart(limit: FlashLimit): void {
  const { count, parts, past, present, level, part } = limit;
  for (let i = 0; i < count; i++) {
    parts[i * PARTS + part] = present[i] as number;
    present[i] = level[i] as number;
    let lowest = parts[i * PARTS] as number;
    for (let k = 1; k < PARTS; k++) {
      const one = parts[i * PARTS + k] as number;
      if (one < lowest) lowest = one;
    }
    past[i] = lowest;
  }
  limit.part = (part + 1) % PARTS;
}

/**
 * @param i which intensity
 * @param wanted 0 = dark, 1 = full
 * @param asked what `wanted` was before the other limits
 * @returns what may leave: `wanted`, or less
 */
export function limitFlash(limit: FlashLimit, i: number, wanted: number, asked = wanted): number {
  const { level, rising } = limit;
  const before = level[i] as number;
  let out = catchUp(limit, i, wanted);
  let holds = false;
  if (rising[i] === 1) follow(limit, i, out);
  if (out > before && rising[i] === 0) {
    const past = limit.past[i] as number;
    const present = limit.present[i] as number;
    const lowest = Math.min(past, present);
    if (out - lowest >= CHANGE && lowest < BRIGHT) {
      if (grant(limit, i)) {
        if (limit.holding[i] === 1) {
          if (limit.catching[i] === 0) settlePace(limit, i, wanted);
          limit.catching[i] = (limit.pace[i] as number) > 0 ? 1 : 0;
          out = catchUp(limit, i, wanted);
        }
        begin(limit, i, out);
      } else {
        holds = true;
        out = lowest + FREE;
        if (out < before) out = before;
        hold(limit, i, asked);
      }
    }
  }
  if (holds) limit.heldS[i] = limit.nowS;
  else limit.holding[i] = 0;
  if (out < wanted) limit.held += 1;
  limit.asked[i] = asked;
  level[i] = out;
  if (out < (limit.present[i] as number)) limit.present[i] = out;
  return out;
}

/** Somebody else has put it there: counted from there, as if it had always been there. */
export function settleFlash(limit: FlashLimit, i: number, level: number): void {
  limit.level[i] = level;
  limit.past[i] = level;
  limit.present[i] = level;
  limit.parts.fill(level, i * PARTS, (i + 1) * PARTS);
  limit.peak[i] = level;
  limit.asked[i] = level;
  limit.rising[i] = 0;
  limit.holding[i] = 0;
  limit.catching[i] = 0;
}

/** A held lamp goes on as fast as it would have risen, and no slower than it must to arrive in time. */
function catchUp({ catching, level, pace, beatS }: FlashLimit, i: number, wanted: number): number {
  if (catching[i] === 0) return wanted;
  const before = level[i] as number;
  // For a fade that was not held longer than that, its own pace is at least that.
  const floor = (wanted - before) / LONGEST_CATCH_UP_S;
  if (floor > (pace[i] as number)) pace[i] = floor;
  const most = before + (pace[i] as number) * beatS;
  if (wanted > most) return most;
  catching[i] = 0;
  return wanted;
}

/** A held fade has risen by what the lamp lacks; if it has not, the wish had arrived before. */
function settlePace(limit: FlashLimit, i: number, wanted: number): void {
  const { heldTop, heldFrom, level, pace } = limit;
  const lacks = wanted - (level[i] as number);
  const rose = (heldTop[i] as number) - (heldFrom[i] as number);
  const learned = pace[i] as number;
  if (learned > 0 && rose < lacks / 2) pace[i] = Math.max(learned, lacks / ARRIVED_CATCH_UP_S);
}

/** Learns how fast the light would have risen, from just before it was held to the most that was asked. */
function hold(limit: FlashLimit, i: number, asked: number): void {
  const { holding, heldFrom, heldFromS, heldTop, pace, nowS, beatS } = limit;
  limit.heldEver += 1;
  if (holding[i] === 0) {
    holding[i] = 1;
    heldFrom[i] = limit.asked[i] as number;
    heldFromS[i] = nowS - beatS;
    heldTop[i] = limit.asked[i] as number;
    // Held again on its way: it keeps the pace of its fade.
    if (limit.catching[i] === 0) pace[i] = 0;
  }
  if (asked <= (heldTop[i] as number)) return;
  heldTop[i] = asked;
  const rose = asked - (heldFrom[i] as number);
  const learned = rose / Math.max(1e-3, nowS - (heldFromS[i] as number));
  // On its way it gets no slower: the wish may have arrived by now, and only tremble.
  if (limit.catching[i] === 0 || learned > (pace[i] as number)) pace[i] = learned;
}

/** Ends a rise that rests or has turned round. */
function follow(limit: FlashLimit, i: number, wanted: number): void {
  const { peak, peakS, nowS, rising } = limit;
  const highest = peak[i] as number;
  if (wanted > highest && nowS - (peakS[i] as number) <= REST_S) {
    peak[i] = wanted;
    peakS[i] = nowS;
    return;
  }
  const rested = nowS - (peakS[i] as number) > REST_S;
  if (!rested && highest - wanted < CHANGE) return;
  rising[i] = 0;
  const { ended, perSecond } = limit;
  const at = i * perSecond;
  ended.copyWithin(at, at + 1, at + perSecond);
  ended[at + perSecond - 1] = peakS[i] as number;
}

function grant(limit: FlashLimit, i: number): boolean {
  const { nowS, opened, perSecond, grantedIn, ended, windows } = limit;
  // Its own rises, counted from the end of the oldest one kept: no second has more than this.
  if (!(nowS - (ended[i * perSecond] as number) > SECOND_S)) return false;
  const isOpen = windows > 0 && nowS - (opened[perSecond - 1] as number) <= WINDOW_S;
  if (isOpen) return (grantedIn[i] as number) < windows;
  // From the end of the window, so that no second contains the end of one window and the start of the fourth.
  if (!(nowS - (opened[0] as number) > SECOND_S + WINDOW_S)) return false;
  opened.copyWithin(0, 1, perSecond);
  opened[perSecond - 1] = nowS;
  limit.windows += 1;
  return true;
}

function begin(limit: FlashLimit, i: number, wanted: number): void {
  limit.rising[i] = 1;
  limit.peak[i] = wanted;
  limit.peakS[i] = limit.nowS;
  limit.grantedIn[i] = limit.windows;
}
