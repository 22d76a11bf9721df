import { isFullySafe, type SafeFade } from '../../safety/fade-to-safe.js';
import { SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { beginComeback, stepComeback } from './comeback.js';
import type { ShowLevels } from './show-levels.js';

/** Universes are sent again after an outage: what has changed since goes through the safe look. */
export interface LightRejoins {
  readonly kind: 'light-rejoins';
  /** As the show numbers them. */
  readonly universes: readonly number[];
  /** These are all universes of the show. */
  readonly all?: true;
  /** How long nothing was sent. */
  readonly forS: number;
  /** How many fixtures have changed meanwhile, and go through the safe look. */
  readonly fixtures: number;
}

/** Those fixtures have come through the safe look. */
export interface LightRejoined {
  readonly kind: 'light-rejoined';
  /** How long that took. */
  readonly forS: number;
}

/**
 * Universes are back after an outage: their light begins at what was last sent.
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
  const all = onWire.length === show.universes.length ? { all: true as const } : {};
  const fixtures = levels.comeback?.plan.fixtures.length ?? 0;
  return { kind: 'light-rejoins', universes: onWire, ...all, forS, fixtures };
}

/** One beat of all that is on its way back. @param falls see `stepFallback` */
export function followComeback(
  levels: ShowLevels,
  dtS: number,
  falls: (fixture: number) => boolean = () => false,
): void {
  const { comeback, out } = levels;
  if (comeback === undefined) return;
  if (!stepComeback(comeback, out, dtS, falls)) levels.comeback = undefined;
}

/** All light is at the safe look, and nothing is held back on its way there. */
export function isSettledSafe({ fallback, comeback, limiter }: ShowLevels): boolean {
  if (limiter.slowed > 0 || limiter.flash.held > 0) return false;
  if (!fallback.safeFades.every(isFullySafe)) return false;
  // By then that is from the safe look to the safe look.
  return comeback === undefined || comeback.fallback.phase !== 'losing';
}

/** Universes, as the show numbers them, of which nothing leaves, or whose light is still on its way after that. */
export function notWithTheRest({ show, comeback, outages }: ShowLevels): number[] {
  const onItsWay = new Set<number>();
  if (comeback?.fallback.phase === 'losing') {
    comeback.plan.fixtures.forEach(({ channels }, i) => {
      if (isFullySafe(comeback.fallback.safeFades[i] as SafeFade)) return;
      for (const { slots } of channels) {
        for (const slot of slots) onItsWay.add(Math.floor(slot / SLOTS_PER_UNIVERSE));
      }
    });
  }
  return show.universes.filter((_, index) => outages.isAway(index) || onItsWay.has(index));
}
