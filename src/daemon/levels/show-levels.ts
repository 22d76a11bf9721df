import { isFullyLive, isFullySafe, type SafeFade } from '../../safety/fade-to-safe.js';
import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackFixture,
  type FallbackPlan,
  readRaw,
  takeLive,
  writeRaw,
} from '../../safety/fallback.js';
import { carryFlash } from '../../safety/flash.js';
import {
  type DeskUniverse,
  type Ground,
  layGround,
  scaleByGround,
  stepGround,
  unscaleByGround,
} from '../../safety/ground.js';
import {
  type CutOff,
  createOutputLimiter,
  firstChannel,
  limitOutput,
  MOST_SLOTS,
  type OutputLimiter,
} from '../../safety/output-limiter.js';
import { rise } from '../../safety/ramp.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { fallbackPlan } from '../../show/model/safe-look.js';
import { type Section, sectionsOf } from '../../show/model/sections.js';
import type { Comeback } from './comeback.js';
import { groundLevels, groundOf } from './ground-levels.js';
import { Outages } from './outages.js';

/** What the supervisor holds of one show: how it gets to its safe look, and what it sends. */
export interface ShowLevels {
  readonly show: Show;
  /** Of the cue that is on, or coming. */
  plan: FallbackPlan;
  /** Its index, 0 in a show without cues; and the plans of all cues, known before any of them is needed. */
  cue: number;
  readonly plans: readonly FallbackPlan[];
  readonly fallback: Fallback;
  limiter: OutputLimiter;
  /** Under way from the light of the other machine to ours. */
  blend: Blend | undefined;
  /** Under way from what was last sent before an outage to what is to be. */
  comeback: Comeback | undefined;
  readonly outages: Outages;
  /** Levels of all universes as last sent, but for what is a share of the desk's. */
  readonly out: Uint8Array;
  /** What of it is the desk's; undefined: nothing. */
  readonly ground: Ground | undefined;
  /** What is sent: `out` itself, where nothing is a share of the desk's. */
  readonly wire: Uint8Array;
  readonly sections: readonly LevelSection[];
  /** For how long the light has been on its way to the safe look, seconds; 0 in every other phase. */
  losingForS: number;
}

/** Where the levels of one section lie, and the limits on what leaves of it; ends are not included. */
export interface LevelSection extends Pick<Section, 'firstUniverse' | 'endUniverse'> {
  readonly firstSlot: number;
  readonly endSlot: number;
  readonly firstChannel: number;
  readonly endChannel: number;
}

/** Of each cue, in order; of a show without cues, one. */
export function plansOf(show: Show, ground = groundLevels(show)): FallbackPlan[] {
  return Array.from({ length: Math.max(1, show.cues.length) }, (_, cue) =>
    fallbackPlan(show, cue, ground),
  );
}

/** Begins at the safe look. @param cue index of the cue that is on */
export function createShowLevels(show: Show, cue = 0): ShowLevels {
  const plans = plansOf(show);
  const plan = plans[cue] as FallbackPlan;
  const out = Uint8Array.from(plan.safeLook);
  const limiter = outputLimiterOf(show, plan, out);
  const ground = groundOf(show, plan);
  return {
    show,
    plan,
    cue,
    plans,
    ground,
    wire: wireOf(ground, out),
    fallback: createFallback(plan),
    limiter,
    blend: undefined,
    comeback: undefined,
    outages: new Outages(show.universes.length),
    out,
    sections: levelSections(show, limiter),
    losingForS: 0,
  };
}

/** What is sent of `out`. */
export function wireOf(ground: Ground | undefined, out: Uint8Array): Uint8Array {
  return ground?.scales === true ? Uint8Array.from(out) : out;
}

/** One beat of the ground, before its levels. @param heardOf what is heard of the desk, by the place of the input */
export function followDesk(
  { ground, plan, outages }: ShowLevels,
  heardOf: (input: number) => DeskUniverse | undefined,
  dtS: number,
): void {
  if (ground !== undefined) stepGround(ground, heardOf, plan.safeLook, dtS, outages.isOut);
}

/**
 * Before the limits: what is the desk's, in some of the universes.
 * @param engineRests whether the engine has a fixture at its safe values
 */
export function layDesk(
  { ground, plan, fallback, limiter, out, comeback, blend }: ShowLevels,
  engineRests: (fixture: number) => boolean,
  firstUniverse: number,
  endUniverse: number,
): void {
  if (ground === undefined) return;
  const rests = (fixture: number) => {
    const own = plan.fixtures[fixture] as FallbackFixture;
    // On its way from what receivers have it is not at the desk's level yet.
    if (comeback?.plan.fixtures.some(one => isAtSlotOf(one, own)) === true) return false;
    if (blend !== undefined && isBlended(blend, own.channels[0])) return false;
    const safeFade = fallback.safeFades[fixture] as SafeFade;
    return isFullySafe(safeFade) || (isFullyLive(safeFade) && engineRests(fixture));
  };
  layGround(ground, limiter, rests, out, firstUniverse, endUniverse);
}

/** After the limits: what leaves, in some of the universes. */
export function layWire(
  { ground, out, wire }: ShowLevels,
  firstUniverse: number,
  endUniverse: number,
): void {
  if (ground === undefined || wire === out) return;
  const [from, end] = [firstUniverse * SLOTS_PER_UNIVERSE, endUniverse * SLOTS_PER_UNIVERSE];
  wire.set(out.subarray(from, end), from);
  scaleByGround(ground, out, wire, firstUniverse, endUniverse);
}

/** One beat of {@link ShowLevels.losingForS}. */
export function countLoss(levels: ShowLevels, dtS: number): void {
  levels.losingForS = levels.fallback.phase === 'losing' ? levels.losingForS + dtS : 0;
}

export function levelSections(show: Show, limiter: OutputLimiter): LevelSection[] {
  return sectionsOf(show).map(({ firstUniverse, endUniverse }) => ({
    firstUniverse,
    endUniverse,
    firstSlot: firstUniverse * SLOTS_PER_UNIVERSE,
    endSlot: endUniverse * SLOTS_PER_UNIVERSE,
    firstChannel: firstChannel(limiter, firstUniverse),
    endChannel: firstChannel(limiter, endUniverse),
  }));
}

/**
 * While the engine is well and nothing is under way: the newest levels of a section become what to send, as
 * `stepFallback` and `stepOutputLimiter` would make of all; call `beginLimiterBeat` once before.
 * @param cutOff see `limitOutput`
 */
export function takeSection(
  levels: ShowLevels,
  section: LevelSection,
  frame: Uint8Array,
  dtS: number,
  cutOff: CutOff | undefined,
  engineRests: (fixture: number) => boolean = () => false,
): void {
  const { fallback, limiter, out } = levels;
  const {
    firstUniverse,
    endUniverse,
    firstSlot,
    endSlot,
    firstChannel: first,
    endChannel,
  } = section;
  takeLive(fallback, frame, out, firstSlot, endSlot);
  layDesk(levels, engineRests, firstUniverse, endUniverse);
  limitOutput(limiter, out, dtS, first, endChannel, cutOff);
  layWire(levels, firstUniverse, endUniverse);
}

/** A crossfade of the whole light, channel by channel. */
export interface Blend {
  /** By universe (index), whether the other's light was known: the rest goes on as it is. */
  readonly knows: readonly boolean[];
  readonly from: Uint8Array;
  readonly lastsS: number;
  share: number;
  /** It stays at the other machine's light, which may be gone, until this is known. */
  waits: boolean;
}

/** Coarse steps of 255 by which two machines with noise of their own may differ: 2 per cent. */
const ALIKE_STEPS = 5;

/** Whether the light of the other machine is ours, as far as it is known. */
export function isAlike({ plan, wire: out }: ShowLevels, other: OtherLight): boolean {
  let known = 0;
  for (const { channels } of plan.fixtures) {
    for (const { slots } of channels) {
      const slot = slots[0] ?? 0;
      if (!other.knows(Math.floor(slot / SLOTS_PER_UNIVERSE))) continue;
      known += 1;
      if (Math.abs((out[slot] ?? 0) - (other.levels[slot] ?? 0)) > ALIKE_STEPS) return false;
    }
  }
  return known > 0;
}

export interface OtherLight {
  readonly levels: Uint8Array;
  /** Whether its levels of this universe (by index) are of now. */
  knows(universe: number): boolean;
}

/**
 * From the light of the other machine, as it is, to ours. What one network has just begun another adds to.
 * @param waits see {@link Blend.waits}
 */
export function beginBlend(levels: ShowLevels, other: OtherLight, waits = false): void {
  const from = Uint8Array.from(levels.out);
  const begun = levels.blend?.share === 0 ? levels.blend : undefined;
  const knows = levels.show.universes.map((_, index) => {
    const at = index * SLOTS_PER_UNIVERSE;
    const known = begun?.knows[index] === true ? begun.from : undefined;
    const theirs = known ?? (other.knows(index) ? other.levels : undefined);
    if (theirs !== undefined) from.set(theirs.subarray(at, at + SLOTS_PER_UNIVERSE), at);
    return theirs !== undefined;
  });
  // What the other machine sends is already scaled by the desk.
  if (levels.ground !== undefined) unscaleByGround(levels.ground, from, knows);
  levels.blend = { knows, from, lastsS: levels.plan.times.returnS, share: 0, waits };
  // What receivers have is the other's light: the limits begin there.
  const { flash } = levels.limiter;
  levels.limiter = outputLimiterOf(levels.show, levels.plan, from);
  carryFlash(levels.limiter.flash, flash, i => i);
}

/** One beat of it, over what would be sent. */
export function stepBlend(levels: ShowLevels, dtS: number): void {
  const { blend, plan, out } = levels;
  if (blend === undefined) return;
  if (!blend.waits) blend.share = rise(blend.share, dtS, blend.lastsS);
  if (blend.share === 1) levels.blend = undefined;
  for (const { channels } of plan.fixtures) {
    for (const channel of channels) {
      if (!isBlended(blend, channel)) continue;
      const ours = readRaw(channel, out);
      const theirs = readRaw(channel, blend.from);
      const share = channel.stepped ? Math.round(blend.share) : blend.share;
      writeRaw(channel, Math.round(theirs + share * (ours - theirs)), out);
    }
  }
}

/** A cue that comes meanwhile has a plan of its own. */
function isAtSlotOf(
  { channels: [a] }: FallbackFixture,
  { channels: [b] }: FallbackFixture,
): boolean {
  return a?.slots[0] === b?.slots[0];
}

function isBlended({ knows }: Blend, channel: FallbackChannel | undefined): boolean {
  return knows[Math.floor((channel?.slots[0] ?? 0) / SLOTS_PER_UNIVERSE)] === true;
}

/** Names of the fixtures whose light the flash limit holds down in this beat. */
export function heldFixtures({ show, plan, limiter }: ShowLevels): string[] {
  const { flash, lamp, slots, count } = limiter;
  const fixtureAt = fixturesBySlot(plan);
  const held = new Set<string>();
  for (let c = 0; c < count; c++) {
    const which = lamp[c] as number;
    if (which < 0 || flash.heldS[which] !== flash.nowS) continue;
    const fixture = fixtureAt.get(slots[c * MOST_SLOTS] as number) ?? -1;
    held.add(show.fixtures[fixture]?.label ?? '');
  }
  return [...held];
}

/** Names of the heads that were to be lit, and that a keep-out keeps dark in this beat, at the wire. */
export function keptDarkHeads({ show, plan, limiter }: ShowLevels): string[] {
  const { gates, slots } = limiter;
  const fixtureAt = fixturesBySlot(plan);
  return gates
    .filter(({ holds }) => holds)
    .map(({ pan }) => fixtureAt.get(slots[pan * MOST_SLOTS] as number) ?? -1)
    .map(fixture => show.fixtures[fixture]?.label ?? '');
}

const bySlot = new WeakMap<FallbackPlan, ReadonlyMap<number, number>>();

/** Of a plan, by the first slot of each channel, the fixture; lights may be held in each beat of an evening. */
function fixturesBySlot(plan: FallbackPlan): ReadonlyMap<number, number> {
  const known = bySlot.get(plan);
  if (known !== undefined) return known;
  const fixtures = new Map<number, number>();
  plan.fixtures.forEach(({ channels }, index) => {
    for (const { slots } of channels) fixtures.set(slots[0] ?? -1, index);
  });
  bySlot.set(plan, fixtures);
  return fixtures;
}

export function outputLimiterOf(show: Show, plan: FallbackPlan, start: Uint8Array): OutputLimiter {
  const channels = plan.fixtures.flatMap(fixture => fixture.channels);
  return createOutputLimiter(channels, start, show.limits, plan.fixtures);
}
