import type { SafeFade } from '../../safety/fade-to-safe.js';
import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackFixture,
  type FallbackPlan,
  plannedFadeS,
} from '../../safety/fallback.js';
import { carryFlash } from '../../safety/flash.js';
import { type Ground, unscaleByGround } from '../../safety/ground.js';
import { lampSlots, type OutputLimiter } from '../../safety/output-limiter.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { beginAtSent } from './begin-at-sent.js';
import { carryGround, groundOf } from './ground-levels.js';
import { Outages } from './outages.js';
import { levelSections, outputLimiterOf, plansOf, type ShowLevels, wireOf } from './show-levels.js';

/** What another show, or a supervisor that has died, has sent last. */
export interface LevelsBefore {
  readonly show: Pick<Show, 'universes'>;
  readonly out: Uint8Array;
  /** Of a supervisor that has died: what lay under it, and `out` is what was sent, a share already; undefined: nothing did. */
  readonly groundLevels?: Uint8Array | undefined;
  /** For how long that light had been on its way to the safe look, seconds; 0 where it was not. */
  readonly losingForS: number;
}

/** What is known besides of the show that runs: each of its fixtures, wherever it is between live and safe. */
export type LevelsRunning = LevelsBefore &
  Pick<
    ShowLevels,
    'show' | 'plan' | 'plans' | 'fallback' | 'blend' | 'comeback' | 'limiter' | 'ground'
  >;

/**
 * Begins at what another show has last sent, and takes it to this show's safe look as if everything had been lost:
 * fixtures that move fade out, move in the dark, and come up again. Slots of the other show that this one does not
 * use fade to 0.
 *
 * A loss that is already under way keeps its time: a fixture that is the same in both shows goes on where it is,
 * another gets the rest of its fade. However often a show is reloaded, the safe look is reached when it was promised.
 * @param cue index of the cue that is on
 */
export function takeOverLevels(
  show: Show,
  before: LevelsBefore | LevelsRunning,
  cue = 0,
): ShowLevels {
  const isSame = 'plans' in before && before.show === show;
  const plans = isSame ? before.plans : plansOf(show);
  const planned = plans[cue] as FallbackPlan;
  const out = Uint8Array.from(planned.safeLook);
  const used = new Set(planned.fixtures.flatMap(slotsOf));
  const { safeLook } = planned;
  const found: number[] = [];
  show.universes.forEach((universe, index) => {
    const old = before.show.universes.indexOf(universe);
    if (old < 0) return;
    const to = index * SLOTS_PER_UNIVERSE;
    const from = old * SLOTS_PER_UNIVERSE;
    out.set(before.out.subarray(from, from + SLOTS_PER_UNIVERSE), to);
    found.push(to);
  });
  const ground = isSame ? before.ground : nextGround(show, planned, before, out);
  // What belongs to the desk is not the other show's, and need not fade.
  for (const { freeSlots } of ground?.universes ?? []) for (const slot of freeSlots) used.add(slot);
  const left = found.flatMap(first =>
    Array.from({ length: SLOTS_PER_UNIVERSE }, (_, i) => first + i).filter(
      slot => out[slot] !== safeLook[slot] && !used.has(slot),
    ),
  );
  const plan: FallbackPlan = {
    ...planned,
    fixtures: [...planned.fixtures, ...left.map(slot => unpatched(slot, safeLook[slot] as number))],
  };
  const fallback = createFallback(plan);
  fallback.phase = 'losing';
  fallback.live.set(out);
  const goOn = 'fallback' in before ? continuation(show, before) : undefined;
  plan.fixtures.forEach((fixture, i) => {
    const safeFade = fallback.safeFades[i] as SafeFade;
    beginAtSent(safeFade, fixture, out);
    if (goOn !== undefined) goOn(fallback, fixture, i);
    else if (before.losingForS > 0) {
      fallback.fadeS[i] = Math.max(0, plannedFadeS(fixture, plan) - before.losingForS);
    }
  });
  const limiter = outputLimiterOf(show, plan, out);
  if ('limiter' in before) carryRation(show, limiter, before);
  return {
    show,
    plan,
    cue,
    plans,
    fallback,
    limiter,
    blend: undefined,
    comeback: undefined,
    outages: new Outages(show.universes.length),
    out,
    ground,
    wire: wireOf(ground, out),
    sections: levelSections(show, limiter),
    losingForS: before.losingForS,
  };
}

/** What lay under the light before goes on. @param sent becomes what was asked */
function nextGround(
  show: Show,
  plan: FallbackPlan,
  before: LevelsBefore | LevelsRunning,
  sent: Uint8Array,
): Ground | undefined {
  const ground = groundOf(show, plan);
  carryGround(show, plan, ground, before);
  if (ground !== undefined && 'groundLevels' in before) unscaleByGround(ground, sent);
  return ground;
}

/** A reload brings no new ration of flashes: lamps that stay on their slots go on with theirs. */
function carryRation(next: Show, limiter: OutputLimiter, before: LevelsRunning): void {
  const wireSlot = wireSlotsOf(before.show);
  const lampAt = new Map(
    lampSlots(before.limiter).map((slot, lamp): [number, number] => [wireSlot(slot), lamp]),
  );
  const nextWireSlot = wireSlotsOf(next);
  const slots = lampSlots(limiter);
  carryFlash(limiter.flash, before.limiter.flash, i =>
    lampAt.get(nextWireSlot(slots[i] as number)),
  );
}

type Continuation = (fallback: Fallback, fixture: FallbackFixture, index: number) => void;

/** Hands over, to a fixture of the next show, what the one on its slots was doing. */
function continuation(next: Show, before: LevelsRunning): Continuation {
  const { show, plan, fallback: old, blend, comeback } = before;
  const isLosing = old.phase === 'losing';
  const wireSlot = wireSlotsOf(show);
  const bySlot = new Map<number, number>();
  plan.fixtures.forEach((fixture, i) => {
    for (const slot of slotsOf(fixture)) bySlot.set(wireSlot(slot), i);
  });
  const nextWireSlot = wireSlotsOf(next);
  return (fallback, fixture, index) => {
    const slots = slotsOf(fixture);
    const owners = new Set(slots.map(slot => bySlot.get(nextWireSlot(slot))));
    const [owner] = owners;
    const was = owner === undefined ? undefined : plan.fixtures[owner];
    // What was sent last is live: there is nothing to go on with. What was blended is not its own.
    if (old.phase === 'live' || blend !== undefined || comeback !== undefined) return;
    const isSame =
      owner !== undefined &&
      was !== undefined &&
      keyOf(was, wireSlot) === keyOf(fixture, nextWireSlot);
    if (!isSame) {
      if (isLosing) fallback.fadeS[index] = leftS(owners, old, fallback.fadeS[index] as number);
      return;
    }
    Object.assign(fallback.safeFades[index] as SafeFade, old.safeFades[owner]);
    fallback.from[index]?.set(old.from[owner] as Float64Array);
    fallback.moveS[index] = old.moveS[owner] as number;
    if (isLosing) fallback.fadeS[index] = old.fadeS[owner] as number;
    const oldSlots = slotsOf(was);
    slots.forEach((slot, k) => {
      fallback.live[slot] = old.live[oldSlots[k] as number] as number;
    });
  };
}

/** What is left of the longest fade of those that had these slots; all of it where none was fading. */
function leftS(owners: ReadonlySet<number | undefined>, old: Fallback, wholeS: number): number {
  let longest: number | undefined;
  for (const owner of owners) {
    const safeFade = owner === undefined ? undefined : old.safeFades[owner];
    if (owner === undefined || safeFade === undefined || safeFade.stage === 'safe') continue;
    longest = Math.max(longest ?? 0, safeFade.live * (old.fadeS[owner] as number));
  }
  return Math.min(wholeS, longest ?? wholeS);
}

/** Alike for two fixtures that get to the same safe values in the same way. */
function keyOf(
  { channels, moves, safeIsDark }: FallbackFixture,
  wireSlot: (slot: number) => number,
): string {
  const placed = channels.map(channel => ({ ...channel, slots: channel.slots.map(wireSlot) }));
  return JSON.stringify([moves, safeIsDark, placed]);
}

/** Index of a slot in the levels of a show -> a number that is the same in every show. */
export function wireSlotsOf({ universes }: Pick<Show, 'universes'>): (slot: number) => number {
  return slot =>
    (universes[Math.floor(slot / SLOTS_PER_UNIVERSE)] ?? 0) * SLOTS_PER_UNIVERSE +
    (slot % SLOTS_PER_UNIVERSE);
}

function slotsOf(fixture: FallbackFixture): number[] {
  return fixture.channels.flatMap(channel => channel.slots);
}

/** A slot that no channel of the show has: what is on it goes out, or to the level that a profile fixes. */
function unpatched(slot: number, safeRaw: number): FallbackFixture {
  const channel: FallbackChannel = {
    slots: [slot],
    class: 'other',
    safeRaw,
    darkRaw: 0,
    stepped: false,
    dropsAtOnce: false,
  };
  return { channels: [channel], moves: false, safeIsDark: true, fadeS: undefined };
}
