import type { ChannelValue } from '../show/model.js';
import {
  type Blended,
  type Crossfade,
  type CrossfadeGroup,
  type Crossfades,
  crossfadeOf,
  shareAmong,
} from './crossfade.js';
import type { Wish } from './explaining.js';
import { KIND, type Lights } from './lights.js';
import type { Mappings } from './map.js';

/** What the mappings ask of intensities, that of one binding after that of the other. */
export interface IntensityAsks {
  /** For each binding its first here; and one entry more, so that the next one's is its end. */
  readonly start: Int32Array;
  readonly light: Int32Array;
  /** At full level, physical. */
  readonly full: Float64Array;
  readonly crossfades: readonly Crossfade[];
  /** By whose trust it goes: where the light follows them alone, its fade stands for the crossfade. */
  readonly whose: Int32Array;
  /** For each binding 1 where it follows somebody: of a head that is on nobody it asks for nothing. */
  readonly follows: Uint8Array;
}

export function* createIntensityAsks(
  { bindings }: Mappings,
  lights: Lights,
  crossfades: Crossfades,
): Generator<undefined, IntensityAsks> {
  const { start: channelStart, intensity } = lights;
  const start = new Int32Array(bindings.length + 1);
  const asks: { readonly light: number; readonly full: number; readonly whose: number }[] = [];
  // A zone's is driven by each of a hundred people.
  let [of, mine]: [number, readonly ChannelValue[]] = [-1, []];
  for (const binding of bindings) {
    if (binding.of !== of) {
      of = binding.of;
      mine = binding.mapping.values.filter(
        ({ fixture, channel }) =>
          (channelStart[fixture] as number) + channel === intensity[fixture],
      );
    }
    const { whose } = binding;
    for (const { fixture, value } of mine) asks.push({ light: fixture, full: value, whose });
    start[binding.index + 1] = asks.length;
  }
  yield;
  return {
    start,
    light: Int32Array.from(asks, ({ light }) => light),
    full: Float64Array.from(asks, ({ full }) => full),
    crossfades: asks.map(({ light, whose }) => crossfadeOf(crossfades, light, whose)),
    whose: Int32Array.from(asks, ({ whose }) => whose),
    follows: Uint8Array.from(bindings, ({ mapping }) => (mapping.kind === 'follow' ? 1 : 0)),
  };
}

/**
 * Levels of the mappings -> the highest intensity that anything asks of each light. Each performer's wish for a
 * fixture is crossfaded with its safe value, then the highest wins; so a lost performer brings up the safe value
 * without taking the light from those who are still tracked.
 */
export function ask(
  asks: IntensityAsks,
  { awake }: Mappings,
  { ofLight, blend }: Crossfades,
  lights: Lights,
  wishes?: Wish[],
): void {
  const { kind, intensity, safe, base, asked, governor, onNobody } = lights;
  for (let i = 0; i < kind.length; i++) {
    const group = ofLight[i];
    const c = intensity[i] as number;
    if (group === undefined || c < 0) continue;
    const least = base[c] as number;
    asked[i] =
      kind[i] === KIND.moving
        ? least
        : blend.length === 0
          ? groundIn(group, safe[c] as number, least)
          : groundOf(group, blend, c);
  }
  for (const binding of awake) {
    const { level, index } = binding;
    if (level === 0) continue;
    const end = asks.start[index + 1] as number;
    for (let k = asks.start[index] as number; k < end; k++) {
      const i = asks.light[k] as number;
      // What the cue before showed of somebody is not shown of nobody while that cue fades.
      if (onNobody[i] === 1 && asks.follows[index] === 1) continue;
      const c = intensity[i] as number;
      const full = asks.full[k] as number;
      const crossfade = asks.crossfades[k] as Crossfade;
      let wish: number;
      if (kind[i] === KIND.moving) {
        const alone = asks.whose[k] === governor[i];
        wish = full * (alone ? level : shareAmong(level, crossfade, ofLight[i] as CrossfadeGroup));
      } else {
        const group = ofLight[i] as CrossfadeGroup;
        wish = wishOf(level * full, c, crossfade, group, blend, lights);
      }
      if (wish > (asked[i] as number)) asked[i] = wish;
      wishes?.push({
        channel: c,
        driver: binding,
        trust: crossfade.level,
        asks: level * full,
        result: wish,
      });
    }
  }
}

/** What shows of a light by itself, without any wish: of the base, or the safe value of those who are lost. */
export function groundIn(
  { lowest, highest }: { lowest: number; highest: number },
  safe: number,
  base: number,
): number {
  // Of those who ask for nothing, safe + level * (base - safe) is highest at one end of the levels.
  return Math.max(mix(safe, base, lowest), mix(safe, base, highest));
}

/** The same between cues: what shows in each of them is crossfaded, so that nothing comes up on the way. */
export function groundOf(group: CrossfadeGroup, blend: readonly Blended[], c: number): number {
  let ground = 0;
  for (let k = 0; k < blend.length; k++) {
    const { weight } = blend[k] as Blended;
    ground += weight * groundAt(group, blend[k] as Blended, k, c);
  }
  return ground;
}

function groundAt(
  { lowestIn, highestIn }: CrossfadeGroup,
  { base, safe }: Blended,
  k: number,
  c: number,
): number {
  const span = { lowest: lowestIn[k] as number, highest: highestIn[k] as number };
  return groundIn(span, safe[c] as number, base[c] as number);
}

/**
 * What is wished of an intensity, from its safe value to what is live, the base at least. In a cue that leaves
 * them no say it is what shows there without them: they take nothing from it, and nothing comes up for it.
 * @param c of the arrays by channel
 */
export function wishOf(
  value: number,
  c: number,
  crossfade: Pick<Crossfade, 'ramp' | 'saysIn'>,
  group: CrossfadeGroup,
  blend: readonly Blended[],
  { safe, base }: Pick<Lights, 'safe' | 'base'>,
): number {
  const { ramp, saysIn } = crossfade;
  if (blend.length === 0) {
    return mix(safe[c] as number, Math.max(base[c] as number, value), ramp);
  }
  let rests = 0;
  let least = 0;
  for (let k = 0; k < blend.length; k++) {
    const one = blend[k] as Blended;
    const ground = saysIn[k] === true ? 0 : groundAt(group, one, k, c);
    rests += one.weight * (saysIn[k] === true ? (one.safe[c] as number) : ground);
    least += one.weight * (saysIn[k] === true ? (one.base[c] as number) : ground);
  }
  return mix(rests, Math.max(least, value), ramp);
}

/** From safe (0) to live (1). */
export function mix(safe: number, live: number, level: number): number {
  return safe + level * (live - safe);
}
