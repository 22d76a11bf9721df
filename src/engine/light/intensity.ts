import type { ChannelValue } from '../../show/model/model.js';
import { KIND, type Lights } from '../values/lights.js';
import {
  type Crossfade,
  type CrossfadeGroup,
  type Crossfades,
  crossfadeOf,
  shareAmong,
} from './crossfade.js';
import { beginCueAsks, type CueAsks, groundIn, mix, raiseMoving, raiseStill } from './cue-asks.js';
import type { Wish } from './explaining.js';
import { type Binding, masterOf } from './layers.js';
import type { Mappings } from './map.js';
import type { Wishes } from './wishes.js';

/** What the mappings ask of intensities, one binding after the other. */
export interface IntensityAsks {
  /** For each binding its first entry here; and one entry more, as the next one's start is its end. */
  readonly start: Int32Array;
  readonly light: Int32Array;
  /** Physical value at full level. */
  readonly full: Float64Array;
  readonly crossfades: readonly Crossfade[];
  /** Whose trust it goes by; if the light follows them alone, its fade stands in for the crossfade. */
  readonly whose: Int32Array;
  /** For each binding 1 if it follows somebody: it asks nothing of a head that is on nobody. */
  readonly follows: Uint8Array;
}

export function* createIntensityAsks(
  { bindings }: Mappings,
  lights: Lights,
  crossfades: Crossfades,
  { merged }: Pick<Wishes, 'merged'>,
): Generator<undefined, IntensityAsks> {
  const { start: channelStart, intensity } = lights;
  const start = new Int32Array(bindings.length + 1);
  // Lights for which `askByLanes` merges everything that is asked.
  const others = new Set(merged.map(({ light }) => light));
  const asks: { readonly light: number; readonly full: number; readonly whose: number }[] = [];
  // A zone may be driven by each of a hundred people.
  let [of, mine]: [number, readonly ChannelValue[]] = [-1, []];
  for (const binding of bindings) {
    if (binding.of !== of) {
      of = binding.of;
      mine = binding.mapping.values.filter(
        ({ fixture, channel }) =>
          (channelStart[fixture] as number) + channel === intensity[fixture] &&
          !others.has(fixture),
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
 * Levels of the mappings -> the highest intensity that anything asks of each light. What each performer asks of a
 * fixture is crossfaded with its safe value, then the highest wins; so a lost performer brings up the safe value
 * without taking the light from those who are still tracked. During a crossfade this is done in each of the cues
 * (cue-asks.ts), and `askByLanes` combines them.
 */
export function ask(
  asks: IntensityAsks,
  inCues: CueAsks,
  { awake }: Mappings,
  crossfades: Crossfades,
  lights: Lights,
  noted?: Wish[],
): void {
  const { ofLight, blend } = crossfades;
  if (blend.length > 0) {
    beginCueAsks(inCues, crossfades, lights);
    askInCues(asks, inCues, awake, crossfades, lights, noted);
    return;
  }
  const { kind, intensity, safe, base, asked, governor } = lights;
  for (let i = 0; i < kind.length; i++) {
    const group = ofLight[i];
    const c = intensity[i] as number;
    if (group === undefined || c < 0) continue;
    const least = base[c] as number;
    asked[i] =
      kind[i] === KIND.moving
        ? least
        : groundIn(group.lowest, group.highest, safe[c] as number, least);
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
        wish = mix(safe[c] as number, Math.max(base[c] as number, level * full), crossfade.ramp);
      }
      if (wish > (asked[i] as number)) asked[i] = wish;
      noted?.push({
        channel: c,
        driver: binding,
        trust: crossfade.level,
        asks: level * full,
        result: wish,
      });
    }
  }
}

function askInCues(
  { start, light, full, crossfades: theirs, whose, follows }: IntensityAsks,
  inCues: CueAsks,
  awake: readonly Binding[],
  { ofLight, blend }: Crossfades,
  { kind, intensity, governor, onNobody }: Lights,
  noted: Wish[] | undefined,
): void {
  for (const binding of awake) {
    const { level, index, own, of } = binding;
    if (level === 0) continue;
    const acts = own * masterOf(binding);
    const end = start[index + 1] as number;
    for (let k = start[index] as number; k < end; k++) {
      const i = light[k] as number;
      // Light that the old cue gave somebody is not shown for nobody while that cue fades.
      if (onNobody[i] === 1 && follows[index] === 1) continue;
      const c = intensity[i] as number;
      const most = full[k] as number;
      const crossfade = theirs[k] as Crossfade;
      const shown = noted && new Float64Array(blend.length).fill(Number.NaN);
      if (kind[i] === KIND.moving) {
        const alone = whose[k] === governor[i];
        const share = alone ? acts : shareAmong(acts, crossfade, ofLight[i] as CrossfadeGroup);
        raiseMoving(inCues, blend, i, of, share * most, shown);
      } else raiseStill(inCues, blend, i, c, of, acts * most, 0, crossfade.ramp, shown);
      noted?.push({
        channel: c,
        driver: binding,
        trust: crossfade.level,
        asks: level * most,
        result: Number.NaN,
        inCues: shown,
      });
    }
  }
}
