import {
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
}

export function createIntensityAsks(
  { bindings }: Mappings,
  lights: Lights,
  crossfades: Crossfades,
): IntensityAsks {
  const { start: channelStart, intensity } = lights;
  const start = new Int32Array(bindings.length + 1);
  const asks = bindings.flatMap(({ mapping, whose, index }) => {
    const mine = mapping.values.filter(
      ({ fixture, channel }) => (channelStart[fixture] as number) + channel === intensity[fixture],
    );
    start[index + 1] = (start[index] as number) + mine.length;
    return mine.map(({ fixture, value }) => ({ light: fixture, full: value, whose }));
  });
  return {
    start,
    light: Int32Array.from(asks, ({ light }) => light),
    full: Float64Array.from(asks, ({ full }) => full),
    crossfades: asks.map(({ light, whose }) => crossfadeOf(crossfades, light, whose)),
    whose: Int32Array.from(asks, ({ whose }) => whose),
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
  { ofLight }: Crossfades,
  { kind, intensity, safe, base, asked, governor }: Lights,
  wishes?: Wish[],
): void {
  for (let i = 0; i < kind.length; i++) {
    const group = ofLight[i];
    const c = intensity[i] as number;
    if (group === undefined || c < 0) continue;
    const least = base[c] as number;
    // Of those who ask for nothing, safe + level * (base - safe) is highest at one end of the levels.
    asked[i] =
      kind[i] === KIND.moving
        ? least
        : Math.max(
            mix(safe[c] as number, least, group.lowest),
            mix(safe[c] as number, least, group.highest),
          );
  }
  for (const binding of awake) {
    const { level, index } = binding;
    if (level === 0) continue;
    const end = asks.start[index + 1] as number;
    for (let k = asks.start[index] as number; k < end; k++) {
      const i = asks.light[k] as number;
      const c = intensity[i] as number;
      const full = asks.full[k] as number;
      const crossfade = asks.crossfades[k] as Crossfade;
      let wish: number;
      if (kind[i] === KIND.moving) {
        const alone = asks.whose[k] === governor[i];
        wish = full * (alone ? level : shareAmong(level, crossfade, ofLight[i] as CrossfadeGroup));
      } else {
        const [rests, least] = [safe[c] as number, base[c] as number];
        const ground = groundOf(rests, least, crossfade, ofLight[i] as CrossfadeGroup);
        wish = wishOf(level * full, rests, ground, crossfade);
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

/**
 * What a wish is at least when it is live: the base. Where the cue takes the say away, no more than what shows without
 * the wish; otherwise it would hold the base up until its say is gone, with everybody lost who has one then.
 */
export function groundOf(
  safe: number,
  base: number,
  { says }: Pick<Crossfade, 'says'>,
  { lowest, highest }: Pick<CrossfadeGroup, 'lowest' | 'highest'>,
): number {
  if (says === 1) return base;
  return Math.min(base, Math.max(mix(safe, base, lowest), mix(safe, base, highest)));
}

/**
 * Between the safe value and what is live, the ground at least. Where the cue takes the say away, the part of the safe
 * value goes with it; the wish of somebody who is lost does not come up for that.
 * @param ground see `groundOf`
 */
export function wishOf(
  value: number,
  safe: number,
  ground: number,
  { ramp, says }: Pick<Crossfade, 'ramp' | 'says'>,
): number {
  return mix(says === 1 ? safe : mix(ground, safe, says), Math.max(ground, value), ramp);
}

/** From safe (0) to live (1). */
export function mix(safe: number, live: number, level: number): number {
  return safe + level * (live - safe);
}
