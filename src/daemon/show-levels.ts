import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackFixture,
  type FallbackPlan,
} from '../safety/fallback.js';
import { createLeaving, type Leaving } from '../safety/leaving.js';
import { createRetreat } from '../safety/retreat.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../show/model.js';
import { fallbackPlan } from '../show/safe-look.js';

/** What the supervisor holds of one show: how it gets to its safe look, and what it sends. */
export interface ShowLevels {
  readonly show: Show;
  readonly plan: FallbackPlan;
  readonly fallback: Fallback;
  readonly leaving: Leaving;
  /** Levels of all universes as last sent. */
  readonly out: Uint8Array;
}

/** Begins at the safe look. */
export function createShowLevels(show: Show): ShowLevels {
  const plan = fallbackPlan(show);
  const out = Uint8Array.from(plan.safeLook);
  return { show, plan, fallback: createFallback(plan), leaving: leavingOf(show, plan, out), out };
}

/**
 * Begins at what another show has last sent, and takes it to this show's safe look as if all had been
 * lost: what moves fades, moves in the dark, and comes up again. Slots of the other show that this one
 * does not use fade to 0.
 */
export function takeOverLevels(show: Show, before: ShowLevels): ShowLevels {
  const plan = fallbackPlan(show);
  const out = Uint8Array.from(plan.safeLook);
  const used = new Set(plan.fixtures.flatMap(slotsOf));
  const left: number[] = [];
  show.universes.forEach((universe, index) => {
    const old = before.show.universes.indexOf(universe);
    if (old < 0) return;
    const to = index * SLOTS_PER_UNIVERSE;
    const from = old * SLOTS_PER_UNIVERSE;
    out.set(before.out.subarray(from, from + SLOTS_PER_UNIVERSE), to);
    for (let slot = to; slot < to + SLOTS_PER_UNIVERSE; slot++) {
      if (out[slot] !== 0 && !used.has(slot)) left.push(slot);
    }
  });
  const whole: FallbackPlan = { ...plan, fixtures: [...plan.fixtures, ...left.map(unused)] };
  const fallback = createFallback(whole);
  fallback.phase = 'losing';
  for (const retreat of fallback.retreats) {
    Object.assign(retreat, createRetreat(), { stage: 'live', live: 1, safe: 0 });
  }
  fallback.live.set(out);
  return { show, plan: whole, fallback, leaving: leavingOf(show, whole, out), out };
}

function leavingOf(show: Show, plan: FallbackPlan, start: Uint8Array): Leaving {
  const channels = plan.fixtures.flatMap(fixture => fixture.channels);
  return createLeaving(channels, start, show.limits);
}

function slotsOf(fixture: FallbackFixture): number[] {
  return fixture.channels.flatMap(channel => channel.slots);
}

/** A slot that no fixture of the show has: what is on it goes out. */
function unused(slot: number): FallbackFixture {
  const channel: FallbackChannel = {
    slots: [slot],
    class: 'other',
    safeRaw: 0,
    darkRaw: 0,
    stepped: false,
    dropsAtOnce: false,
  };
  return { channels: [channel], moves: false, safeIsDark: true, fadeS: undefined };
}
