import { placesOf } from '../../fixtures/profile.js';
import type { FallbackChannel, FallbackPlan } from '../../safety/fallback.js';
import type { GroundUniverse } from '../../safety/ground.js';
import { type FixturePlan, type Show, SLOTS_PER_UNIVERSE } from './model.js';
import { patchedSlots } from './patched-slots.js';
import { groundUseOf } from './safe-look.js';

/** Whether anything of the show lies on a desk. */
export function hasGround({ desk }: Pick<Show, 'desk'>): boolean {
  return desk.some(({ ground }) => ground !== undefined);
}

/** Inputs of the desk that the engine needs: control slots, and safe values. */
export function deskInputsOfEngine({ desk, fixtures, orders, signals }: Show): number[] {
  return desk.flatMap(({ ground }, input) => {
    const isSafe = fixtures.some(fixture => {
      return fixture.universe === ground && fixture.ground.includes('safe');
    });
    const isControl =
      orders.some(order => order.desk === input) ||
      signals.signals.some(({ source }) => source.kind === 'slot' && source.desk === input);
    return isControl || isSafe ? [input] : [];
  });
}

/** The parts of each universe that belong to the desk, or take something from it. @param plan of any cue: the channels are the same in all */
export function groundsOf(show: Show, plan: FallbackPlan): GroundUniverse[] {
  const { starts, lengths } = patchedSlots(show);
  const isPatched = new Uint8Array(show.universes.length * SLOTS_PER_UNIVERSE);
  starts.forEach((start, run) => {
    isPatched.fill(1, start, start + (lengths[run] as number));
  });
  return show.desk.flatMap(({ ground: universe, gone, fadeS }, input): GroundUniverse[] => {
    if (universe === undefined || universe < 0) return [];
    const firstSlot = universe * SLOTS_PER_UNIVERSE;
    const slots = Array.from({ length: SLOTS_PER_UNIVERSE }, (_, slot) => firstSlot + slot);
    const fixtures = show.fixtures.flatMap((fixture, index) => {
      if (fixture.universe !== universe) return [];
      return [{ fixture: index, channels: plan.fixtures[index]?.channels ?? [] }];
    });
    const all = fixtures.flatMap(({ channels }) => channels);
    const those = (use: FallbackChannel['ground']) => all.filter(({ ground }) => ground === use);
    return [
      {
        input,
        universe,
        firstSlot,
        // A ground is never unknown: `check` refuses it.
        gone: gone === 'unknown' ? 'hold' : gone,
        fadeS,
        freeSlots: Int32Array.from(slots.filter(slot => isPatched[slot] === 0)),
        desk: those('desk'),
        safe: fixtures.flatMap(({ fixture, channels }) => {
          const own = channels.filter(({ ground }) => ground === 'safe');
          return own.length === 0 ? [] : [{ fixture, channels: own }];
        }),
        scale: those('scale'),
      },
    ];
  });
}

/** Slots in its universe, from 0, where a fixture takes its safe values from the desk. */
export function safeSlotsOf(fixture: FixturePlan): number[] {
  const first = fixture.firstSlot % SLOTS_PER_UNIVERSE;
  return fixture.profile.channels.flatMap((channel, index) =>
    groundUseOf(fixture, index) === 'safe'
      ? placesOf(channel)
          .flat()
          .map(offset => first + offset)
      : [],
  );
}
