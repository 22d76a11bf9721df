import { type FallbackPlan, writeRaw } from '../safety/fallback.js';
import { carryGround, createGround, type Ground } from '../safety/ground.js';
import { groundsOf, hasGround } from '../show/grounds.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../show/model.js';

/** Where the levels of a show's ground are kept, for the plans of all its cues; undefined: it has none. */
export function groundLevels(show: Show): Uint8Array | undefined {
  if (!hasGround(show)) return undefined;
  return new Uint8Array(show.universes.length * SLOTS_PER_UNIVERSE);
}

/**
 * The ground of a show before anything of the desk has been heard: the show's own safe values, and a share of nothing.
 * @param plan its `ground` is what is kept up to date
 * @param sent what a supervisor that has died has sent last, of all universes: until the desk is heard that stays
 */
export function groundOf(show: Show, plan: FallbackPlan, sent?: Uint8Array): Ground | undefined {
  const { ground: levels } = plan;
  if (levels === undefined) return undefined;
  const ground = createGround(groundsOf(show, plan), levels);
  levels.set(sent ?? plan.safeLook);
  for (const { scale } of ground.universes) {
    for (const channel of scale) {
      const { darkRaw, slots } = channel;
      const maxRaw = 256 ** slots.length - 1;
      const fullRaw = darkRaw * 2 <= maxRaw ? maxRaw : 0;
      // What was sent is a share already.
      writeRaw(channel, sent === undefined ? darkRaw : fullRaw, levels);
    }
  }
  return ground;
}

/** Goes on with what another show had of its desks, by their names. */
export function carryDesk(
  show: Show,
  ground: Ground | undefined,
  before: { readonly show: Show; readonly ground: Ground | undefined },
): void {
  if (ground === undefined || before.ground === undefined) return;
  const inputBefore = (input: number) =>
    before.show.desk.findIndex(({ name }) => name === show.desk[input]?.name);
  carryGround(ground, before.ground, inputBefore);
}
