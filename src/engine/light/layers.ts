import type { Curve } from '../../mapping/curve.js';
import type { Presence } from '../../mapping/presence.js';
import type { MappingPlan, Mix } from '../../show/model/model.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Cues } from '../cues/cues.js';
import type { Watched } from '../people/watch.js';
import { KIND, type Lights } from '../values/lights.js';
import {
  type Blended,
  type Crossfade,
  type CrossfadeGroup,
  type Crossfades,
  goesLive,
  governorOf,
  shareAmong,
} from './crossfade.js';
import type { Wish } from './explaining.js';
import type { Fades } from './fades.js';
import type { Lane } from './lanes.js';

export type PresenceMapping = Exclude<MappingPlan, { kind: 'signal' }>;

/** One mapping as one performer drives it. */
export interface Binding {
  readonly index: number;
  readonly mapping: PresenceMapping;
  /** Index of the mapping. */
  readonly of: number;
  /** Of a choice: of now. */
  performer: number;
  /** By whose trust its light goes, as in `Watched.believed`. */
  readonly whose: number;
  /** Where a condition has a say in a follow: what that makes of it. */
  readonly lane: Lane | undefined;
  readonly curve: Curve;
  /** Presence in this zone drives it; undefined for a follow mapping. */
  readonly presence: Presence | undefined;
  /** Without presence it asks for nothing, and needs no look. */
  readonly sleeps: boolean;
  /** 0..1 after curve and fade. */
  own: number;
  /** As far as the cue lets it act. */
  level: number;
  /** What it does to fixtures beside their intensity. */
  readonly layers: readonly Layer[];
}

/** What one binding (or lane) sets of one light beside its intensity. */
export interface Layer {
  readonly binding: Lane | Binding;
  /** Index of its mapping, and by whose trust it goes. */
  readonly of: number;
  readonly whose: number;
  readonly light: number;
  readonly crossfade: Crossfade;
  /** The channels that it sets, in the arrays by channel, and their values at full level. */
  readonly channels: readonly number[];
  readonly values: readonly number[];
  /** At level 0; undefined: it then leaves them as they are. */
  readonly from: readonly number[] | undefined;
  readonly mix: Mix;
  /** Later ones lie on top: by priority, then by how they mix. Of as many, the latest to rise. */
  readonly rank: number;
  /** It lies among the active ones. */
  isActive: boolean;
}

/** How far the master of its mapping lets it act. */
export function masterOf(owner: Lane | Binding): number {
  if ('master' in owner) return owner.master;
  return owner.lane === undefined ? 1 : owner.lane.master;
}

/** Has a layer lie among the active ones, on top of its rank; or not. */
export function restack(active: readonly Layer[][], layer: Layer, isActive: boolean): void {
  if (layer.isActive === isActive) return;
  layer.isActive = isActive;
  const stack = active[layer.light] as Layer[];
  if (!isActive) {
    stack.splice(stack.indexOf(layer), 1);
    return;
  }
  let at = stack.length;
  while (at > 0 && (stack[at - 1] as Layer).rank > layer.rank) at -= 1;
  stack.splice(at, 0, layer);
}

/**
 * Who rose last lies on top, and crossfades over what is below. Intensity is the guard's.
 * @param crossfades of the last tick, but for the cues between which there is one
 */
export function layer(
  layers: readonly Layer[],
  light: number,
  cues: Cues,
  watched: Watched,
  crossfades: Crossfades,
  fades: Fades,
  lights: Lights,
  wishes: Wish[] | undefined,
): void {
  const { start, wanted, base, kind, followed, governor, movement, stepped, holds } = lights;
  const isAimed = (followed[light] as number) >= 0 && lights.onNobody[light] === 0;
  const group = crossfades.ofLight[light] as CrossfadeGroup;
  const whom = followed[light] as number;
  // From the loss on, a fixture that moves holds all that it shows; the change waits for the dark.
  if (
    kind[light] === KIND.moving &&
    (fades.safeFades[light]?.stage === 'fading' ||
      !goesLive(governorOf(group, governor[light] as number, watched, crossfades), whom))
  ) {
    return;
  }
  const end = start[light + 1] as number;
  for (let c = start[light] as number; c < end; c++) {
    if (holds[light] === 1 && (movement[c] === 1 || stepped[c] === 1)) continue;
    // Pan and tilt of a head that follows are the aim's.
    if (!isAimed || movement[c] === 0) wanted[c] = base[c] as number;
  }
  const isBetween = crossfades.blend.length > 0;
  for (const one of layers) lay(one, cues, group, lights, isBetween, wishes);
  if (isBetween && layers.length > 0) layBetween(layers, crossfades.blend, group, lights, wishes);
}

/** @param isBetween in the middle of a cue's crossfade, where the rest is `layBetween`'s */
function lay(
  { binding, of, whose, light, crossfade, channels, values, from, mix }: Layer,
  { levels, acts }: Cues,
  group: CrossfadeGroup,
  { wanted, stepped, movement, governor, holds, least, greatest }: Lights,
  isBetween: boolean,
  wishes: Wish[] | undefined,
): void {
  const { own } = binding;
  const share = from !== undefined ? (levels[of] as number) * masterOf(binding) : binding.level;
  // The head follows them: its fade stands for the crossfade.
  const shows = governor[light] === whose ? share : shareAmong(share, crossfade, group);
  for (let i = 0; i < channels.length; i++) {
    const c = channels[i] as number;
    const below = wanted[c] as number;
    // There is nothing between two positions of a wheel, and half way between two aims is neither: the
    // layer on top has it. A head goes there in the dark.
    const isWhole = stepped[c] === 1 || movement[c] === 1;
    if (isBetween && !isWhole) continue;
    // It is off in the cue that comes: where the others go, it has no say any more.
    if (isWhole && (acts[of] === 0 || holds[light] === 1)) continue;
    const shown = isWhole && shows > 0 ? 1 : shows;
    const full = values[i] as number;
    const value = from === undefined ? full : between(from[i] as number, full, own, isWhole);
    const met = meet(mix, below, value, least[c] as number, greatest[c] as number);
    const result = below + shown * (met - below);
    wanted[c] = result;
    wishes?.push({ channel: c, driver: binding, trust: crossfade.level, asks: value, result });
  }
}

/**
 * What has something between two values, in the middle of a cue's crossfade: as each of its cues alone has it, and of
 * that what is its own. So a colour that both ask alike stays as it is.
 */
function layBetween(
  layers: readonly Layer[],
  blend: readonly Blended[],
  group: CrossfadeGroup,
  lights: Lights,
  wishes: Wish[] | undefined,
): void {
  const { wanted, stepped, movement, scratch } = lights;
  const [first] = layers;
  const start = lights.start[(first as Layer).light] as number;
  const end = lights.start[(first as Layer).light + 1] as number;
  const count = end - start;
  const noted = wishes?.length ?? 0;
  for (let k = 0; k < blend.length; k++) {
    const { levels, weight, base } = blend[k] as Blended;
    for (let c = start; c < end; c++) {
      if (stepped[c] === 0 && movement[c] === 0) wanted[c] = base[c] as number;
    }
    let note = noted;
    for (const one of layers) note = layInCue(one, levels, weight, group, lights, wishes, note);
    for (let i = 0; i < count; i++) {
      const value = wanted[start + i] as number;
      if (k === 0) {
        scratch[i] = value;
        scratch[count + i] = value;
        continue;
      }
      // From the first one on: what all of them have alike stays so to the bit.
      const begun = scratch[i] as number;
      scratch[count + i] = (scratch[count + i] as number) + weight * (value - begun);
    }
  }
  for (let i = 0; i < count; i++) wanted[start + i] = scratch[count + i] as number;
}

/** @param note place in `wishes` of the first that is noted of it. @returns that of the next */
function layInCue(
  { binding, of, whose, light, crossfade, channels, values, from, mix }: Layer,
  levels: Float64Array,
  weight: number,
  group: CrossfadeGroup,
  { wanted, stepped, movement, governor, least, greatest }: Lights,
  wishes: Wish[] | undefined,
  note: number,
): number {
  const acts = (levels[of] as number) * masterOf(binding);
  const share = from === undefined ? acts * binding.own : acts;
  const shows = governor[light] === whose ? share : shareAmong(share, crossfade, group);
  let next = note;
  for (let i = 0; i < channels.length; i++) {
    const c = channels[i] as number;
    if (stepped[c] === 1 || movement[c] === 1) continue;
    const below = wanted[c] as number;
    const full = values[i] as number;
    const asks = from === undefined ? full : between(from[i] as number, full, binding.own, false);
    const met = meet(mix, below, asks, least[c] as number, greatest[c] as number);
    const value = below + shows * (met - below);
    wanted[c] = value;
    if (wishes === undefined) continue;
    const trust = crossfade.level;
    const before = wishes[next]?.result ?? 0;
    wishes[next] = { channel: c, driver: binding, trust, asks, result: before + weight * value };
    next += 1;
  }
  return next;
}

function between(from: number, to: number, level: number, isWhole: boolean): number {
  if (isWhole) return level > 0 ? to : from;
  return from + level * (to - from);
}

/**
 * What comes of a value that is asked for, over one that is there. `scale` is in per cent of it. Sums and products stay
 * within the channel's range: beyond it a fade would show nothing at first, and then go too fast.
 */
export function meet(
  mix: Mix,
  below: number,
  value: number,
  least: number,
  greatest: number,
): number {
  switch (mix) {
    case 'usual':
    case 'latest':
      return value;
    case 'highest':
      return Math.max(below, value);
    case 'add':
      return within(below + value, least, greatest);
    case 'scale':
      return within((below * value) / 100, least, greatest);
    default:
      return unreachable(mix);
  }
}

function within(value: number, least: number, greatest: number): number {
  return Math.min(Math.max(value, least), greatest);
}
