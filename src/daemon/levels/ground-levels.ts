import {
  type FallbackChannel,
  type FallbackPlan,
  readRaw,
  writeRaw,
} from '../../safety/fallback.js';
import { createGround, fullRawOf, type Ground, goOnFrom } from '../../safety/ground.js';
import { groundsOf, hasGround } from '../../show/model/grounds.js';
import { type DeskInputPlan, type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';

/** Where the levels of a show's ground are kept, for the plans of all its cues; undefined: it has none. */
export function groundLevels(show: Show): Uint8Array | undefined {
  if (!hasGround(show)) return undefined;
  return new Uint8Array(show.universes.length * SLOTS_PER_UNIVERSE);
}

/**
 * The ground of a show before anything of the desk has been heard: the show's own safe values, and a share of nothing.
 * @param plan its `ground` is what is kept up to date
 */
export function groundOf(show: Show, plan: FallbackPlan): Ground | undefined {
  const { ground: levels } = plan;
  if (levels === undefined) return undefined;
  const ground = createGround(groundsOf(show, plan), levels);
  levels.set(plan.safeLook);
  for (const { scale } of ground.universes) {
    for (const channel of scale) writeRaw(channel, channel.darkRaw, levels);
  }
  return ground;
}

/** What lay under a light, and what was sent. */
export interface UnderBefore {
  readonly show: Pick<Show, 'universes'> & Partial<Pick<Show, 'desk'>>;
  /** Of all its universes, also where the ground itself is not known (of a supervisor that has died). */
  readonly out: Uint8Array;
  readonly ground?: Ground | undefined;
  readonly groundLevels?: Uint8Array | undefined;
}

/**
 * Goes on with what was under the universes that both have, whatever desk it came from. Where one had none, what was sent stays, in full.
 * @param plan of the show that goes on
 */
export function carryGround(
  show: Show,
  plan: FallbackPlan,
  ground: Ground | undefined,
  before: UnderBefore,
): void {
  ground?.universes.forEach(({ input, universe, firstSlot, safe, scale }, i) => {
    const old = before.show.universes.indexOf(show.universes[universe] as number);
    if (old < 0) return;
    const at = before.ground?.universes.findIndex(one => one.universe === old) ?? -1;
    const known = at < 0 ? before.groundLevels : before.ground?.levels;
    const oldFirst = old * SLOTS_PER_UNIVERSE;
    goOnFrom(ground, i, known ?? before.out, oldFirst);
    if (known !== undefined) {
      const under = before.ground;
      const was = before.show.desk?.[under?.universes[at]?.input ?? -1];
      // The receiver goes on as well.
      if (under === undefined || !isSameInput(was, show.desk[input])) return;
      ground.gone[i] = under.gone[at] as number;
      ground.before[i] = under.before[at];
      return;
    }
    const write = (channel: FallbackChannel, raw: number) => {
      writeRaw(channel, raw, ground.levels);
    };
    for (const { channels } of safe)
      for (const one of channels) write(one, readRaw(one, plan.safeLook));
    for (const one of scale) write(one, fullRawOf(one));
    ground.before[i]?.levels.set(ground.levels.subarray(firstSlot, firstSlot + SLOTS_PER_UNIVERSE));
  });
}

function isSameInput(a: DeskInputPlan | undefined, b: DeskInputPlan | undefined): boolean {
  const keyOf = (one: DeskInputPlan | undefined) =>
    JSON.stringify([one?.protocol, one?.interface, one?.universe, one?.gone]);
  return keyOf(a) === keyOf(b);
}
