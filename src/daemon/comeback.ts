import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackFixture,
  type FallbackPlan,
  readRaw,
  stepFallback,
  writeRaw,
} from '../safety/fallback.js';
import { isFullySafe, type Retreat } from '../safety/retreat.js';
import { SLOTS_PER_UNIVERSE } from '../show/model.js';
import type { ShowLevels } from './show-levels.js';
import { beginAtSent } from './take-over.js';

/** Of its range, by how much a channel may have changed meanwhile and go on at once: 2.7 degrees of 540. */
const ALIKE = { movement: 0.005, intensity: 0.02, other: 0.02 };

/** Universes leave again after an outage: what has changed since goes by way of the safe look. */
export interface LightRejoins {
  readonly kind: 'light-rejoins';
  /** As the show numbers them. */
  readonly universes: readonly number[];
  readonly forS: number;
}

/** The light of some fixtures on its way from what was last sent, by the safe look, to what it is to be. */
export interface Comeback {
  readonly plan: FallbackPlan;
  readonly fallback: Fallback;
  /** Of all universes; only the fixtures of the plan are kept up to date. */
  readonly levels: Uint8Array;
}

/**
 * After an outage: what has changed meanwhile is not caught up with in the light. As after a restart of the engine
 * it fades out where it stands, moves in the dark, and comes up.
 * @param isBack of each universe (by index), whether it is sent again
 * @param sent levels that really left last, of all universes
 * @param wanted what they would be now
 * @param under fixtures that begin too, whatever has changed
 * @returns undefined where nothing has changed
 */
export function beginComeback(
  plan: FallbackPlan,
  isBack: (universe: number) => boolean,
  sent: Uint8Array,
  wanted: Uint8Array,
  under: ReadonlySet<FallbackFixture> = new Set(),
): Comeback | undefined {
  const hasMoved = ({ channels }: FallbackFixture) =>
    channels.some(channel => hasChanged(channel, sent, wanted));
  const fixtures = plan.fixtures.filter(
    one => under.has(one) || (isOn(one, isBack) && hasMoved(one)),
  );
  if (fixtures.length === 0) return undefined;
  const some: FallbackPlan = { ...plan, fixtures };
  const fallback = createFallback(some);
  fallback.phase = 'losing';
  fallback.live.set(sent);
  fixtures.forEach((fixture, i) => {
    beginAtSent(fallback.retreats[i] as Retreat, fixture, sent);
  });
  return { plan: some, fallback, levels: Uint8Array.from(sent) };
}

/**
 * One beat, over what would be sent.
 * @param levels of all universes; those of its fixtures are overwritten
 * @returns whether it goes on: until all is as it is to be, and each hazardous output has been seen off
 */
export function stepComeback(comeback: Comeback, levels: Uint8Array, dtS: number): boolean {
  const { plan, fallback, levels: own } = comeback;
  stepFallback(fallback, plan, levels, true, dtS, own);
  for (const { channels } of plan.fixtures) {
    for (const channel of channels) writeRaw(channel, readRaw(channel, own), levels);
  }
  return fallback.phase !== 'live' || fallback.armed.includes(0);
}

/**
 * Universes are back after an outage: their light begins at what of it has left last.
 * @param sent levels that left last, of all universes; `levels.out` are those that are to leave now
 */
export function rejoin(levels: ShowLevels, sent: Uint8Array): LightRejoins {
  const { show, plan, out, comeback, outages } = levels;
  const { universes, forS } = outages.take();
  // What is on its way back already, and what has come back now, begin together.
  const under = new Set(comeback?.plan.fixtures);
  const isBack = (universe: number) => universes.includes(universe);
  levels.comeback = beginComeback(plan, isBack, sent, out, under);
  const onWire = universes.map(index => show.universes[index] ?? 0);
  return { kind: 'light-rejoins', universes: onWire, forS };
}

/** One beat of all that is on its way back. */
export function followComeback(levels: ShowLevels, dtS: number): void {
  const { comeback, out } = levels;
  if (comeback !== undefined && !stepComeback(comeback, out, dtS)) levels.comeback = undefined;
}

/** All light is at the safe look, and nothing is held back on its way there. */
export function isSettledSafe({ fallback, comeback, leaving }: ShowLevels): boolean {
  if (leaving.slowed > 0 || leaving.flash.held > 0) return false;
  if (!fallback.retreats.every(isFullySafe)) return false;
  // By then that goes from the safe look to the safe look.
  return comeback === undefined || comeback.fallback.phase !== 'losing';
}

function isOn({ channels }: FallbackFixture, isBack: (universe: number) => boolean): boolean {
  return channels.some(({ slots }) =>
    slots.some(slot => isBack(Math.floor(slot / SLOTS_PER_UNIVERSE))),
  );
}

function hasChanged(channel: FallbackChannel, sent: Uint8Array, wanted: Uint8Array): boolean {
  const most = channel.stepped ? 0 : ALIKE[channel.class] * (256 ** channel.slots.length - 1);
  return Math.abs(readRaw(channel, wanted) - readRaw(channel, sent)) > most;
}
