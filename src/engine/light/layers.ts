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
  /** With a choice, the present one. */
  performer: number;
  /** Whose trust its light goes by, as in `Watched.believed`. */
  readonly whose: number;
  /** For a follow mapping with a condition: its drive. */
  readonly lane: Lane | undefined;
  readonly curve: Curve;
  /** Presence in this zone drives it; undefined for a follow mapping. */
  readonly presence: Presence | undefined;
  /** Without presence it asks for nothing, and can be skipped. */
  readonly sleeps: boolean;
  /** 0..1 after curve and fade. */
  own: number;
  /** The same as far as the cue lets it act. */
  level: number;
  /** What it does to fixtures beside their intensity. */
  readonly layers: readonly Layer[];
}

/** What one binding (or lane) sets of one light beside its intensity. */
export interface Layer {
  readonly binding: Lane | Binding;
  /** Index of its mapping, and of whose trust it goes by. */
  readonly of: number;
  readonly whose: number;
  readonly light: number;
  readonly crossfade: Crossfade;
  /** The channels that it sets, in the arrays by channel, and their values at full level. */
  readonly channels: readonly number[];
  readonly values: readonly number[];
  /** Their values at level 0; undefined: it leaves them as they are. */
  readonly from: readonly number[] | undefined;
  readonly mix: Mix;
  /** Higher ranks lie on top: by priority, then by mix. Within one rank the latest to rise is on top. */
  readonly rank: number;
  /** It is among the active layers. */
  isActive: boolean;
}

/** How far the master of its mapping lets it act. */
export function masterOf(owner: Lane | Binding): number {
  if ('master' in owner) return owner.master;
  return owner.lane === undefined ? 1 : owner.lane.master;
}

/** Puts a layer among the active ones, on top of its rank; or takes it out. */
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
 * The layer that rose last lies on top, and crossfades over what is below. The guard does intensity.
 * @param crossfades of the last tick, except for the cues of a crossfade, which are of this one
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
  // After a loss, a fixture that moves holds everything it shows; the change waits for the dark.
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
    // `aim` sets pan and tilt of a head that follows.
    if (!isAimed || movement[c] === 0) wanted[c] = base[c] as number;
  }
  const isBetween = crossfades.blend.length > 0;
  for (const one of layers) lay(one, cues, group, lights, isBetween, wishes);
  if (isBetween && layers.length > 0) layBetween(layers, crossfades.blend, group, lights, wishes);
}

/** @param isBetween during a crossfade between cues; `layBetween` does the rest */
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
  // The head follows them: its fade stands in for the crossfade.
  const shows = governor[light] === whose ? share : shareAmong(share, crossfade, group);
  for (let i = 0; i < channels.length; i++) {
    const c = channels[i] as number;
    const below = wanted[c] as number;
    // A wheel has nothing between two positions, and half way between two aims is neither: the top layer decides. A
    // head goes there in the dark.
    const isWhole = stepped[c] === 1 || movement[c] === 1;
    if (isBetween && !isWhole) continue;
    // It is off in the new cue: it no longer counts in where the others go.
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
 * Channels that can be crossfaded, during a crossfade between cues: the value that each cue alone gives, weighted by
 * its share. So a colour that both ask for stays as it is.
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
      // Starts from the first cue, so that a value common to all stays the same to the bit.
      const begun = scratch[i] as number;
      scratch[count + i] = (scratch[count + i] as number) + weight * (value - begun);
    }
  }
  for (let i = 0; i < count; i++) wanted[start + i] = scratch[count + i] as number;
}

/** @param note place in `wishes` of its first note. @returns the place of the next */
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
 * Merges a value that is asked for with the one below. `scale` is in per cent of that. Sums and products stay within
 * the channel's range: beyond it a fade would show nothing at first, and then go too fast.
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
