import { beginGate, goOnGate, type PlacedGate } from '../../safety/beam-gate.js';
import { showLive } from '../../safety/fade-to-safe.js';
import { createFallback, type FallbackChannel, type FallbackPlan } from '../../safety/fallback.js';
import { carryFlash } from '../../safety/flash.js';
import { lampSlots, MOST_SLOTS, type OutputLimiter } from '../../safety/output-limiter.js';
import type { Show } from '../../show/model/model.js';
import { fallbackPlan } from '../../show/model/safe-look.js';
import { carryGround, groundLevels, groundOf } from './ground-levels.js';
import { levelSections, outputLimiterOf, type ShowLevels, wireOf } from './show-levels.js';

/** What the supervisor holds for the next show: its safe look, how it gets there, and its limits. */
export type NextLevels = Pick<
  ShowLevels,
  'show' | 'plan' | 'plans' | 'cue' | 'fallback' | 'limiter' | 'sections' | 'ground'
>;

/**
 * Made in steps, each of them between two beats.
 * @param cue index of the cue that is to be on
 * @param afterBeat when the next beat has been sent
 */
export async function prepareLevels(
  show: Show,
  cue: number,
  afterBeat: () => Promise<void>,
): Promise<NextLevels> {
  const levels = groundLevels(show);
  const plans: FallbackPlan[] = [];
  for (let each = 0; each < Math.max(1, show.cues.length); each++) {
    await afterBeat();
    plans.push(fallbackPlan(show, each, levels));
  }
  const plan = plans[cue] as FallbackPlan;
  await afterBeat();
  const fallback = createFallback(plan);
  await afterBeat();
  const limiter = outputLimiterOf(show, plan, plan.safeLook);
  await afterBeat();
  const ground = groundOf(show, plan);
  const sections = levelSections(show, limiter);
  return { show, plan, plans, cue, fallback, limiter, ground, sections };
}

/** Index of the cue of the same name, or of the first. */
export function cueIn(next: Show, running: Show, cue: number): number {
  const name = running.cues[cue]?.name;
  return Math.max(
    0,
    next.cues.findIndex(one => one.name === name),
  );
}

/**
 * From the light of one show that is live to another with the same patch: what was last sent goes on, and so do the
 * limits on it and the flashes that there have been. From now on the new safe look is where a failure leads.
 */
export function goOnWith(next: NextLevels, before: ShowLevels): ShowLevels {
  const { fallback, limiter } = next;
  fallback.phase = 'live';
  fallback.wellForS = before.fallback.wellForS;
  fallback.live.set(before.fallback.live);
  for (const safeFade of fallback.safeFades) showLive(safeFade);
  const armed = new Map(
    before.fallback.dropping.map((one, i) => [firstSlot(one), before.fallback.armed[i] as number]),
  );
  fallback.dropping.forEach((one, i) => {
    fallback.armed[i] = armed.get(firstSlot(one)) ?? 0;
  });
  carryPlaces(limiter, before.limiter);
  const { blend, comeback, outages, out, losingForS } = before;
  carryGround(next.show, next.plan, next.ground, before);
  const wire = wireOf(next.ground, out);
  return { ...next, blend, comeback, outages, out, wire, losingForS };
}

function firstSlot({ slots }: FallbackChannel): number {
  return slots[0] ?? -1;
}

/** Where each channel is, with its fractions; where each head is; and what each lamp has flashed. */
function carryPlaces(limiter: OutputLimiter, before: OutputLimiter): void {
  const places = new Map<number, number>();
  for (let c = 0; c < before.count; c++) places.set(before.slots[c * MOST_SLOTS] as number, c);
  for (let c = 0; c < limiter.count; c++) {
    const was = places.get(limiter.slots[c * MOST_SLOTS] as number);
    if (was !== undefined) limiter.at[c] = before.at[was] as number;
  }
  carryGates(limiter, before);
  const lamps = new Map(lampSlots(before).map((slot, lamp): [number, number] => [slot, lamp]));
  const slots = lampSlots(limiter);
  for (let i = 0; i < limiter.flash.count; i++) {
    const was = lamps.get(slots[i] as number);
    if (was !== undefined) limiter.flash.level[i] = before.flash.level[was] as number;
  }
  carryFlash(limiter.flash, before.flash, i => lamps.get(slots[i] as number));
}

/** Made at the safe look, a gate would take a lit head for one that has just come from there, in the dark. */
function carryGates(limiter: OutputLimiter, before: OutputLimiter): void {
  const panSlot = ({ slots }: OutputLimiter, { pan }: PlacedGate) => slots[pan * MOST_SLOTS];
  const gates = new Map(before.gates.map(placed => [panSlot(before, placed), placed]));
  for (const placed of limiter.gates) {
    const was = gates.get(panSlot(limiter, placed));
    if (was === undefined) beginGate(placed, limiter.at, limiter.dark);
    else goOnGate(placed, was);
  }
}
