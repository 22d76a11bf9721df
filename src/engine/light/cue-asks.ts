import { KIND, type Lights } from '../values/lights.js';
import type { Blended, CrossfadeGroup, Crossfades } from './crossfade.js';
import type { Wish } from './explaining.js';

/**
 * In the middle of a cue's crossfade: what each of its cues asks of each light, as if it were on alone. The highest
 * counts in each, and what comes of them is crossfaded: so what both ask alike stays level, and nothing comes up on
 * the way.
 */
export interface CueAsks {
  /** Physical; light by light, for each of the cues of the crossfade. */
  values: Float64Array;
}

export function createCueAsks(): CueAsks {
  return { values: new Float64Array(0) };
}

/** What shows of each light in each cue without any wish. */
export function beginCueAsks(asks: CueAsks, { ofLight, blend }: Crossfades, lights: Lights): void {
  const { kind, intensity } = lights;
  const cues = blend.length;
  if (asks.values.length < cues * kind.length) asks.values = new Float64Array(cues * kind.length);
  const { values } = asks;
  for (let light = 0; light < kind.length; light++) {
    const group = ofLight[light];
    const c = intensity[light] as number;
    if (group === undefined || c < 0) continue;
    for (let k = 0; k < cues; k++) {
      const cue = blend[k] as Blended;
      values[cues * light + k] =
        kind[light] === KIND.moving ? (cue.base[c] as number) : groundAt(group, cue, k, c);
    }
  }
}

function groundAt(
  { lowestIn, highestIn }: CrossfadeGroup,
  { base, safe }: Blended,
  k: number,
  c: number,
): number {
  const [lowest, highest] = [lowestIn[k] as number, highestIn[k] as number];
  return groundIn(lowest, highest, safe[c] as number, base[c] as number);
}

/**
 * What shows of a light by itself, without any wish: of the base, or the safe value of those who are lost.
 * @param lowest level of those who have a say, and the highest
 */
export function groundIn(lowest: number, highest: number, safe: number, base: number): number {
  // Of those who ask for nothing, safe + level * (base - safe) is highest at one end of the levels.
  return Math.max(mix(safe, base, lowest), mix(safe, base, highest));
}

/** From safe (0) to live (1). */
export function mix(safe: number, live: number, level: number): number {
  return safe + level * (live - safe);
}

/**
 * A wish for a light that crossfades, from its safe value to what is live; in a cue that has it off it asks for
 * nothing.
 * @param of index of the mapping
 * @param c of the arrays by channel
 * @param value where a cue lets it act wholly
 * @param sure how much of that shows at least, whoever is lost
 * @param shown what each cue makes of it, where somebody asked
 */
export function raiseStill(
  { values }: CueAsks,
  blend: readonly Blended[],
  light: number,
  c: number,
  of: number,
  value: number,
  sure: number,
  ramp: number,
  shown: Float64Array | undefined,
): void {
  for (let k = 0; k < blend.length; k++) {
    const { levels, safe, base } = blend[k] as Blended;
    const acts = levels[of] as number;
    if (acts === 0) continue;
    const wish = mix(safe[c] as number, Math.max(base[c] as number, acts * value), ramp);
    raise(values, blend.length * light + k, Math.max(wish, acts * sure), k, shown);
  }
}

/** The same of a light that moves: its fade stands for the trust. */
export function raiseMoving(
  { values }: CueAsks,
  blend: readonly Blended[],
  light: number,
  of: number,
  value: number,
  shown: Float64Array | undefined,
): void {
  for (let k = 0; k < blend.length; k++) {
    const acts = (blend[k] as Blended).levels[of] as number;
    if (acts > 0) raise(values, blend.length * light + k, acts * value, k, shown);
  }
}

function raise(
  values: Float64Array,
  at: number,
  wish: number,
  k: number,
  shown: Float64Array | undefined,
): void {
  if (wish > (values[at] as number)) values[at] = wish;
  if (shown !== undefined) shown[k] = wish;
}

/** All cues together, by how much of the light is each one's own. */
export function crossfadeAsks(
  { values }: CueAsks,
  { ofLight, blend }: Crossfades,
  { kind, intensity, asked }: Lights,
): void {
  const cues = blend.length;
  for (let light = 0; light < kind.length; light++) {
    if (ofLight[light] === undefined || (intensity[light] as number) < 0) continue;
    // From the first one on: what all of them ask alike stays so to the bit.
    const first = values[cues * light] as number;
    let sum = first;
    for (let k = 1; k < cues; k++) {
      sum += (blend[k] as Blended).weight * ((values[cues * light + k] as number) - first);
    }
    asked[light] = sum;
  }
}

/** What was noted of each wish: what it comes to by itself, and in how much of the light it is the highest. */
export function noteShares(
  noted: Wish[],
  { values }: CueAsks,
  blend: readonly Blended[],
  { intensity }: Lights,
): void {
  for (const [i, one] of noted.entries()) {
    const { inCues, channel } = one;
    if (inCues === undefined) continue;
    const at = blend.length * intensity.indexOf(channel);
    let [result, share] = [0, 0];
    for (const [k, { weight }] of blend.entries()) {
      const wish = inCues[k] as number;
      // NaN where the cue has it off.
      if (Number.isNaN(wish)) continue;
      result += weight * wish;
      if (wish >= (values[at + k] as number)) share += weight;
    }
    noted[i] = { ...one, result, share, inCues: undefined };
  }
}
