import type { SafeFade } from '../../safety/fade-to-safe.js';
import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackFixture,
  type FallbackPlan,
  readRaw,
  stepFallback,
  writeRaw,
} from '../../safety/fallback.js';
import { SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { beginAtSent } from './begin-at-sent.js';

/** Share of its range by which a channel may have changed meanwhile and still go on at once: 2.7 degrees of 540. */
const ALIKE = { movement: 0.005, intensity: 0.02, other: 0.02 };

/** The light of some fixtures on its way from what was last sent, through the safe look, to what it should be. */
export interface Comeback {
  readonly plan: FallbackPlan;
  /** Of each of its fixtures, its place among all. */
  readonly places: readonly number[];
  readonly fallback: Fallback;
  /** Of all universes; only the fixtures of the plan are kept up to date. */
  readonly levels: Uint8Array;
}

/**
 * After an outage changes are not caught up in one step. As after a restart of the engine, the light fades out where
 * it stands, moves in the dark, and comes up.
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
  const places = plan.fixtures.flatMap((one, i) =>
    under.has(one) || (isOn(one, isBack) && hasMoved(one)) ? [i] : [],
  );
  const fixtures = places.map(i => plan.fixtures[i] as FallbackFixture);
  if (fixtures.length === 0) return undefined;
  const some: FallbackPlan = { ...plan, fixtures };
  const fallback = createFallback(some);
  fallback.phase = 'losing';
  fallback.live.set(sent);
  fixtures.forEach((fixture, i) => {
    beginAtSent(fallback.safeFades[i] as SafeFade, fixture, sent);
  });
  return { plan: some, places, fallback, levels: Uint8Array.from(sent) };
}

/**
 * One beat, over what would be sent.
 * @param levels of all universes; those of its fixtures are overwritten
 * @param falls see `stepFallback`, by the place among all
 * @returns whether it goes on: until all is as it is to be, and each hazardous output has been seen off
 */
export function stepComeback(
  comeback: Comeback,
  levels: Uint8Array,
  dtS: number,
  falls: (fixture: number) => boolean,
): boolean {
  const { plan, places, fallback, levels: own } = comeback;
  stepFallback(fallback, plan, levels, true, dtS, own, i => falls(places[i] as number));
  for (const { channels } of plan.fixtures) {
    for (const channel of channels) writeRaw(channel, readRaw(channel, own), levels);
  }
  return fallback.phase !== 'live' || fallback.armed.includes(0);
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
