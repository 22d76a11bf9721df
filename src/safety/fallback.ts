import { unreachable } from '../stage/unreachable.js';
import type { BeamGate } from './beam-gate.js';
import {
  createSafeFade,
  dropSafeFade,
  isFullyLive,
  isFullySafe,
  movedValue,
  type SafeFade,
  type SafeFadeTimes,
  showLive,
  steppedValue,
  stepSafeFade,
} from './fade-to-safe.js';
import { isHazardousRaw, type RawRange } from './hazard.js';

/**
 * The supervisor's own fallback: takes whole universes from what was last live to the safe look and back, channel by
 * channel, without knowing about performers. A 16-bit channel is faded as one number; faded byte by byte, its fine
 * half would make it jump.
 */
export interface FallbackChannel {
  /** Index of each of its bytes in the levels of all universes, most significant first. */
  readonly slots: readonly number[];
  readonly class: 'intensity' | 'movement' | 'other';
  /** The safe value as an integer of 8 bits a slot. */
  readonly safeRaw: number;
  /** The channel's value at no intensity (an inverted dimmer is dark at its maximum). */
  readonly darkRaw: number;
  /** Its values are choices, not a scale: there is nothing to fade through between two of them. */
  readonly stepped: boolean;
  /** A hazardous output: at its safe value in every phase but live. */
  readonly dropsAtOnce: boolean;
  /** If only some of its values are hazardous (a shutter that also strobes), which; undefined: all. */
  readonly hazardRaws?: readonly RawRange[] | undefined;
  /** How fast the fixture can follow, raw steps a second and a second squared; undefined: not known. */
  readonly motion?: { readonly speed: number; readonly acceleration: number } | undefined;
  /** What it takes from the desk's level at its slots; undefined: nothing. See `Ground`. */
  readonly ground?: 'desk' | 'safe' | 'scale' | undefined;
}

export interface FallbackFixture {
  readonly channels: readonly FallbackChannel[];
  readonly moves: boolean;
  readonly safeIsDark: boolean;
  /** Live to safe, seconds; undefined: the watchdog's time. */
  readonly fadeS: number | undefined;
  /** If the head may not shine everywhere. */
  readonly gate?: BeamGate | undefined;
}

export interface FallbackPlan {
  readonly fixtures: readonly FallbackFixture[];
  /** Bytes of all universes, 512 each. */
  readonly levelCount: number;
  /** All universes at the safe look. */
  readonly safeLook: Uint8Array;
  readonly times: SafeFadeTimes;
  readonly rearmS: number;
  /** The desk's levels of all universes, as they are in this beat: the safe values of channels that take theirs from there. */
  readonly ground?: Uint8Array | undefined;
}

export type FallbackPhase = 'safe' | 'rearming' | 'returning' | 'live' | 'losing';

export interface Fallback {
  phase: FallbackPhase;
  wellForS: number;
  readonly safeFades: readonly SafeFade[];
  /** Raw value of each channel of each fixture when its last move began. */
  readonly from: readonly Float64Array[];
  /** Of each fixture, how long its present move takes, seconds. */
  readonly moveS: Float64Array;
  /**
   * Of each fixture, how long its present fade from live to safe (or dark) takes, seconds: less than the plan's if it
   * began under another show, which has already promised its end.
   */
  readonly fadeS: Float64Array;
  /** What counts as live: the last frame taken, held while losing. */
  readonly live: Uint8Array;
  /** Channels of hazardous outputs. */
  readonly dropping: readonly FallbackChannel[];
  /**
   * For each of these, whether it may be live: the engine has shown it at its safe value since it was dropped. An
   * engine that hung would otherwise go on with the enable that was held all the while.
   */
  readonly armed: Uint8Array;
}

export function createFallback(plan: FallbackPlan): Fallback {
  const dropping = plan.fixtures.flatMap(one =>
    one.channels.filter(({ dropsAtOnce }) => dropsAtOnce),
  );
  return {
    phase: 'safe',
    wellForS: 0,
    safeFades: plan.fixtures.map(() => createSafeFade()),
    from: plan.fixtures.map(fixture => Float64Array.from(fixture.channels, c => c.safeRaw)),
    moveS: new Float64Array(plan.fixtures.length).fill(plan.times.moveS),
    fadeS: Float64Array.from(plan.fixtures, fixture => plannedFadeS(fixture, plan)),
    live: Uint8Array.from(plan.safeLook),
    dropping,
    armed: new Uint8Array(dropping.length),
  };
}

/**
 * One beat of the supervisor.
 * @param frame the newest levels of the engine; may be the same as last time
 * @param well whether the engine is alive and on time
 * @param dtS seconds since the last beat, at least 0
 * @param out what was sent last; overwritten with what to send now
 * @param falls whether somebody's loss takes a fixture (by its place in the plan) to its safe values in this frame:
 *   while the light is given back its share never rises, as that share times a falling level would come up first
 * @returns whether the phase changed
 */
export function stepFallback(
  fallback: Fallback,
  plan: FallbackPlan,
  frame: Uint8Array,
  well: boolean,
  dtS: number,
  out: Uint8Array,
  falls: (fixture: number) => boolean = fallsNowhere,
): boolean {
  fallback.wellForS = well ? fallback.wellForS + dtS : 0;
  const before = fallback.phase;
  if (before === 'live' && well) {
    takeLive(fallback, frame, out, 0, out.length);
    return false;
  }
  fallback.armed.fill(0);
  const phase = nextFallbackPhase(before, {
    well,
    rearmed: fallback.wellForS >= plan.rearmS,
    settledSafe: fallback.safeFades.every(isFullySafe),
    settledLive: fallback.safeFades.every(isFullyLive),
  });
  fallback.phase = phase;
  const isNewLoss = phase === 'losing' && before !== 'losing';
  // While losing, live stays what was last sent: a restarted engine begins with its own safe look,
  // and to take that over in mid-fade would be a step in the light.
  if (phase !== 'losing') fallback.live.set(frame);
  else if (before === 'live') fallback.live.set(out);
  for (let i = 0; i < plan.fixtures.length; i++) {
    const fixture = plan.fixtures[i] as FallbackFixture;
    const safeFade = fallback.safeFades[i] as SafeFade;
    const from = fallback.from[i] as Float64Array;
    const plannedS = plannedFadeS(fixture, plan);
    const wantLive = phase === 'live' || (phase === 'returning' && !falls(i));
    // The rest of an earlier loss's fade is not the time of this one.
    if (isNewLoss || phase === 'returning') fallback.fadeS[i] = plannedS;
    // Up to the safe intensity, after the move, is a fade of its own.
    const fadeS = safeFade.stage === 'safe' ? plannedS : (fallback.fadeS[i] as number);
    // If live and safe are the same, nothing has to dip on the way.
    if (wantLive ? isFullySafe(safeFade) : isFullyLive(safeFade)) {
      if (isSafeLook(fixture, fallback.live, plan)) (wantLive ? showLive : dropSafeFade)(safeFade);
    }
    const times = { returnS: plan.times.returnS, moveS: fallback.moveS[i] as number };
    // Its light waits until it has surely left where it may not shine.
    const hasArrived = safeFade.waitedS >= (fixture.gate?.leavesInS ?? 0);
    const { moves, safeIsDark } = fixture;
    stepSafeFade(safeFade, wantLive, moves, safeIsDark, dtS, fadeS, times, hasArrived);
    if (safeFade.departed) {
      const longest = longestMoveS(fixture, safeFade.stage === 'to-live', out, fallback.live, plan);
      fallback.moveS[i] = Math.max(plan.times.moveS, longest);
    }
    fixture.channels.forEach((channel, index) => {
      if (safeFade.departed) from[index] = readRaw(channel, out);
      const raw = isDropped(channel, fallback.live)
        ? channel.safeRaw
        : blend(channel, fixture.moves, safeFade, from[index] ?? 0, fallback.live, plan);
      writeRaw(channel, Math.round(raw), out);
    });
  }
  return phase !== before;
}

const fallsNowhere = () => false;

/** From live to safe (or dark), seconds. */
export function plannedFadeS(fixture: FallbackFixture, plan: Pick<FallbackPlan, 'times'>): number {
  return fixture.fadeS ?? plan.times.fadeS;
}

/** How long a fixture needs for its next move. */
function longestMoveS(
  { channels }: FallbackFixture,
  toLive: boolean,
  from: Uint8Array,
  live: Uint8Array,
  plan: Pick<FallbackPlan, 'ground'>,
): number {
  let longest = 0;
  for (const channel of channels) {
    const target = toLive ? readRaw(channel, live) : safeRawOf(channel, plan);
    longest = Math.max(longest, moveTimeS(channel, Math.abs(target - readRaw(channel, from))));
  }
  return longest;
}

/** To its safe value from the farther end of its range. */
function farthestMoveS(channel: FallbackChannel): number {
  const maxRaw = 256 ** channel.slots.length - 1;
  // The desk may send it to either end.
  if (channel.ground === 'safe') return moveTimeS(channel, maxRaw);
  return moveTimeS(channel, Math.max(channel.safeRaw, maxRaw - channel.safeRaw));
}

/**
 * A move along 3 a^2 - 2 a^3 over a way d in a time T has its greatest speed, 1.5 d / T, in the middle, and
 * its greatest acceleration, 6 d / T^2, at both ends.
 */
function moveTimeS({ motion }: FallbackChannel, way: number): number {
  if (motion === undefined) return 0;
  return Math.max((1.5 * way) / motion.speed, Math.sqrt((6 * way) / motion.acceleration));
}

function isSafeLook(
  { channels }: FallbackFixture,
  live: Uint8Array,
  plan: Pick<FallbackPlan, 'ground'>,
): boolean {
  return channels.every(channel => readRaw(channel, live) === safeRawOf(channel, plan));
}

/** Its safe value in this beat: where it takes that from the desk, the desk's level. */
export function safeRawOf(
  channel: FallbackChannel,
  { ground }: Pick<FallbackPlan, 'ground'>,
): number {
  return ground !== undefined && channel.ground === 'safe'
    ? readRaw(channel, ground)
    : channel.safeRaw;
}

/** Hazardous, and at a hazardous value, before or now. */
function isDropped(channel: FallbackChannel, live: Uint8Array): boolean {
  return channel.dropsAtOnce && isHazardousRaw(channel.hazardRaws, readRaw(channel, live));
}

/**
 * While it is live and the engine is well, its levels are what to send.
 * @param from, end the range of levels: some universes, or all
 */
export function takeLive(
  fallback: Fallback,
  frame: Uint8Array,
  out: Uint8Array,
  from: number,
  end: number,
): void {
  out.set(frame.subarray(from, end), from);
  arm(fallback, out, from, end);
}

/** Keeps those that may not be live yet at their safe values. */
function arm({ armed, dropping }: Fallback, out: Uint8Array, from: number, end: number): void {
  for (let i = 0; i < dropping.length; i++) {
    if (armed[i] === 1) continue;
    const channel = dropping[i] as FallbackChannel;
    // What was sent before proves nothing: it may be our own safe value.
    const slot = channel.slots[0] ?? 0;
    if (slot < from || slot >= end) continue;
    const raw = readRaw(channel, out);
    const isOff = raw === channel.safeRaw || !isHazardousRaw(channel.hazardRaws, raw);
    if (isOff) armed[i] = 1;
    else writeRaw(channel, channel.safeRaw, out);
  }
}

export interface FallbackInputs {
  readonly well: boolean;
  readonly rearmed: boolean;
  /** Every fixture is at its safe values. */
  readonly settledSafe: boolean;
  /** Every fixture is at its live values. */
  readonly settledLive: boolean;
}

/** Once lost, the safe look is always reached before live values are taken again. */
export function nextFallbackPhase(phase: FallbackPhase, inputs: FallbackInputs): FallbackPhase {
  switch (phase) {
    case 'live':
      return inputs.well ? 'live' : 'losing';
    case 'returning':
      if (!inputs.well) return 'losing';
      return inputs.settledLive ? 'live' : 'returning';
    case 'losing':
      if (!inputs.settledSafe) return 'losing';
      return inputs.well ? 'rearming' : 'safe';
    case 'safe':
    case 'rearming':
      if (!inputs.well) return 'safe';
      return inputs.rearmed ? 'returning' : 'rearming';
    default:
      return unreachable(phase);
  }
}

function blend(
  channel: FallbackChannel,
  moves: boolean,
  safeFade: Readonly<SafeFade>,
  from: number,
  live: Uint8Array,
  plan: Pick<FallbackPlan, 'ground'>,
): number {
  const { darkRaw } = channel;
  const safeRaw = safeRawOf(channel, plan);
  const liveRaw = readRaw(channel, live);
  if (channel.stepped) return steppedValue(safeFade, moves, from, liveRaw, safeRaw);
  switch (channel.class) {
    case 'intensity':
      return darkRaw + safeFade.live * (liveRaw - darkRaw) + safeFade.safe * (safeRaw - darkRaw);
    case 'movement':
    case 'other':
      // Colour and beam of a head change with its aim, in the dark; those of a fixture that can't move, with its
      // intensity.
      return moves
        ? movedValue(safeFade, from, liveRaw, safeRaw)
        : safeRaw + safeFade.live * (liveRaw - safeRaw);
    default:
      return unreachable(channel.class);
  }
}

export function readRaw({ slots }: FallbackChannel, levels: Uint8Array): number {
  let raw = 0;
  for (const slot of slots) raw = raw * 256 + (levels[slot] ?? 0);
  return raw;
}

export function writeRaw({ slots }: FallbackChannel, raw: number, levels: Uint8Array): void {
  let rest = raw;
  for (let i = slots.length - 1; i >= 0; i--) {
    levels[slots[i] as number] = rest & 0xff;
    rest >>>= 8;
  }
}

/** The move in the dark from wherever it may be, seconds. */
export function longestMoveToSafeS(fixture: FallbackFixture, { moveS }: SafeFadeTimes): number {
  const { channels, gate } = fixture;
  return Math.max(moveS, ...channels.map(farthestMoveS)) + (gate?.leavesInS ?? 0);
}

/** Longest time from live to the whole safe look, seconds, for the manual and the tests. */
export function timeToSafeS(plan: FallbackPlan): number {
  let longest = 0;
  for (const fixture of plan.fixtures) {
    const fadeS = plannedFadeS(fixture, plan);
    const moveS = longestMoveToSafeS(fixture, plan.times);
    const movesS = fixture.moves ? moveS + (fixture.safeIsDark ? 0 : fadeS) : 0;
    longest = Math.max(longest, fadeS + movesS);
  }
  return longest;
}
