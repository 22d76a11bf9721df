import { toPhysical } from '../fixtures/encode.js';
import { type Channel, placesOf } from '../fixtures/profile.js';
import { goneShare } from '../safety/ground.js';
import { hasGround } from '../show/model/grounds.js';
import { type FixturePlan, type Show, SLOTS_PER_UNIVERSE } from '../show/model/model.js';
import { groundUseOf } from '../show/model/safe-look.js';
import { sameBytes } from '../stage/same-bytes.js';
import type { Cues } from './cues/cues.js';
import type { Desk } from './desk.js';
import type { Aims } from './heads/aim.js';
import { restAt } from './heads/heads.js';
import type { CrossfadeGroup, Crossfades } from './light/crossfade.js';
import type { Fades } from './light/fades.js';
import type { ReloadFade } from './light/reload-fade.js';
import type { Highlight } from './operator/highlight.js';
import { KIND, type Lights } from './values/lights.js';

/** The channels whose safe values are the desk's own levels, and move with them. */
export interface DeskGround {
  readonly inputs: readonly GroundInput[];
  /** For each light 1 while it is at its safe values; the supervisor then takes them straight from the desk. */
  readonly resting: Uint8Array;
  /** Counts changes of `resting`. */
  changes: number;
}

interface GroundInput {
  readonly input: number;
  readonly name: string;
  readonly fadeS: number;
  readonly lights: readonly GroundedLight[];
  /** After the desk is gone, how far it has faded from the desk's levels to the show's safe values; NaN before the first tick. */
  gone: number;
  /** The inputs it was last computed from. */
  readonly levels: Uint8Array;
  cue: number;
}

interface GroundedLight {
  readonly light: number;
  readonly plan: FixturePlan;
  /** Index of the fixture's universe. */
  readonly firstSlot: number;
  readonly channels: readonly GroundedChannel[];
  /** A virtual dimmer has no slot: it is as bright as the brightest of its emitters, which are in proportion. */
  readonly dimmer:
    | { readonly at: number; readonly emitters: readonly GroundedChannel[] }
    | undefined;
}

interface GroundedChannel {
  /** In the arrays by channel. */
  readonly at: number;
  readonly channel: Channel;
  /** Offsets of its bytes in the first place where it is patched. */
  readonly place: readonly number[];
  /** The show's own safe values for each cue; in a show without cues, one set. */
  readonly own: readonly number[];
}

export function createDeskGround(show: Show, lights: Lights): DeskGround {
  const inputs = hasGround(show) ? show.desk : [];
  return {
    inputs: inputs.flatMap(({ ground, name, fadeS }, input): GroundInput[] => {
      const grounded = show.fixtures.flatMap((plan, light) => {
        if (plan.universe !== ground) return [];
        return groundedLight(show, plan, light, lights.start[light] as number);
      });
      if (grounded.length === 0) return [];
      const levels = new Uint8Array(SLOTS_PER_UNIVERSE);
      return [{ input, name, fadeS, lights: grounded, gone: Number.NaN, levels, cue: -2 }];
    }),
    resting: new Uint8Array(show.fixtures.length),
    changes: 0,
  };
}

function groundedLight(show: Show, plan: FixturePlan, light: number, start: number) {
  const { profile, firstSlot } = plan;
  const { channels: all, virtualDimmer } = profile;
  const { cues } = show;
  const channels = all.flatMap((channel, index): GroundedChannel[] => {
    if (groundUseOf(plan, index) !== 'safe') return [];
    const own =
      cues.length === 0
        ? [plan.safe[index] as number]
        : cues.map(({ safe }) => safe[light]?.[index] as number);
    const place = placesOf(channel)[0] ?? [];
    return [{ at: start + index, channel, place, own }];
  });
  if (channels.length === 0) return [];
  const dimmer = channels.find(({ at }) => at === start + virtualDimmer);
  const emitters = channels.filter(({ channel }) => channel.dimmed);
  const one: GroundedLight = {
    light,
    plan,
    firstSlot: firstSlot % SLOTS_PER_UNIVERSE,
    channels,
    dimmer: dimmer === undefined ? undefined : { at: dimmer.at, emitters },
  };
  return [one];
}

/** The part of the engine that a ground changes. */
interface Grounded {
  readonly desk: Desk;
  readonly lights: Lights;
  readonly cues: Cues;
  readonly fades: Fades;
  readonly aims: Pick<Aims, 'pointings'>;
}

/** Levels of the desk -> safe values. */
export function stepDeskGround(ground: DeskGround, engine: Grounded, dtS: number): void {
  for (const input of ground.inputs) {
    const universe = engine.desk.universes[input.input];
    const isHeard = universe?.isHeard === true;
    const gone = goneShare(input.gone, isHeard, input.fadeS, dtS);
    const { on, began } = engine.cues;
    const levels = universe?.levels;
    const isNew = levels !== undefined && !sameBytes(levels, input.levels);
    if (!isNew && gone === input.gone && on === input.cue && !began) continue;
    input.gone = gone;
    input.cue = on;
    if (isNew) input.levels.set(levels);
    lay(input, levels !== undefined, engine);
  }
}

function lay(input: GroundInput, isKnown: boolean, engine: Grounded): void {
  const { lights, cues, fades, aims } = engine;
  const share = isKnown ? input.gone : 1;
  const cue = Math.max(0, cues.on);
  for (const one of input.lights) {
    const brightest = brightestOf(one, input.levels);
    for (const grounded of one.channels) {
      const { at, channel, own } = grounded;
      const safe = own[cue] as number;
      let level = safe;
      if (at === one.dimmer?.at) level = FULL * brightest;
      else if (one.dimmer !== undefined && channel.dimmed) {
        // A colour in the dark means nothing: the show's own stays.
        if (brightest > 0) level = shareAt(grounded, one, input.levels) / brightest;
        level = brightest > 0 ? channel.from + level * (channel.to - channel.from) : safe;
      } else level = toPhysical(channel, rawAt(grounded, one, input.levels));
      const value = share === 0 ? level : level + share * (safe - level);
      lights.safe[at] = lights.stepped[at] === 1 && share < 1 ? level : value;
      // The cue that is on and the one that goes out have the same.
      cues.from.safe[at] = lights.safe[at];
      for (const look of cues.looks) look.safe[at] = lights.safe[at];
    }
    restHead(one, fades, aims, lights);
  }
}

/** The desk's level, as long as the desk is there. */
function restHead(
  { light, plan }: GroundedLight,
  { safeFades }: Fades,
  { pointings }: Pick<Aims, 'pointings'>,
  { start, safe }: Lights,
): void {
  const pointing = pointings[light];
  if (pointing === undefined || safeFades[light]?.stage !== 'safe') return;
  const first = start[light] as number;
  const { panChannel, tiltChannel } = plan;
  restAt(pointing, safe[first + panChannel] as number, safe[first + tiltChannel] as number);
}

/** Virtual dimmers go from 0 to 100 per cent. */
const FULL = 100;

/** The greatest share of full among the emitters of a virtual dimmer. */
function brightestOf(light: GroundedLight, levels: Uint8Array): number {
  let brightest = 0;
  for (const emitter of light.dimmer?.emitters ?? []) {
    brightest = Math.max(brightest, shareAt(emitter, light, levels));
  }
  return brightest;
}

function shareAt(grounded: GroundedChannel, light: GroundedLight, levels: Uint8Array): number {
  const { channel } = grounded;
  const value = toPhysical(channel, rawAt(grounded, light, levels));
  return (value - channel.from) / (channel.to - channel.from);
}

function rawAt({ place }: GroundedChannel, light: GroundedLight, levels: Uint8Array): number {
  let raw = 0;
  for (const offset of place) raw = raw * 256 + (levels[light.firstSlot + offset] as number);
  return raw;
}

/** The state of the tick. */
interface Shown {
  readonly lights: Lights;
  readonly crossfades: Crossfades;
  readonly fades: Fades;
  readonly highlight: Highlight;
  readonly reloadFade: ReloadFade | undefined;
}

/** At the end of a tick: which lights are at their safe values, so that the supervisor may use the desk's newest levels. */
export function noteResting(ground: DeskGround, shown: Shown): void {
  for (const { lights } of ground.inputs) {
    for (const { light } of lights) {
      const rests = isResting(light, shown) ? 1 : 0;
      if (ground.resting[light] === rests) continue;
      ground.resting[light] = rests;
      ground.changes += 1;
    }
  }
}

function isResting(light: number, shown: Shown): boolean {
  const { lights, crossfades, fades, highlight, reloadFade } = shown;
  if (reloadFade !== undefined || (highlight.shares[light] as number) > 0) return false;
  if (lights.kind[light] === KIND.still) {
    return (crossfades.ofLight[light] as CrossfadeGroup).highest === 0;
  }
  const safeFade = fades.safeFades[light];
  return lights.kind[light] === KIND.moving && safeFade?.stage === 'safe' && safeFade.safe === 1;
}

/** In a reload that keeps the light: safe values stay where they were. */
export function takeDeskGround(next: DeskGround, old: DeskGround, engine: Grounded): void {
  for (const input of next.inputs) {
    const was = old.inputs.find(({ name }) => name === input.name);
    if (was !== undefined) input.gone = was.gone;
  }
  stepDeskGround(next, engine, 0);
}
