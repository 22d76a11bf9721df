import { KIND, type Lights } from '../values/lights.js';
import type { Blended, CrossfadeGroup, Crossfades } from './crossfade.js';
import type { Wish } from './explaining.js';

/**
 * During a crossfade between cues: what each of the cues asks of each light, as if it were on alone. The highest
 * counts in each, and the results are crossfaded: so a level that both ask for stays, and nothing comes up on the
 * way.
 */
export interface CueAsks {
  /** Physical values; light by light, for each of the cues of the crossfade. */
  values: Float64Array;
}

export function createCueAsks(): CueAsks {
  return { values: new Float64Array(0) };
}

/** What each light shows in each cue when nothing is asked of it. */
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
 * What a light shows by itself when nothing is asked of it: its base, or the safe value for those who are lost.
 * @param lowest level of those who count, and the highest
 */
export function groundIn(lowest: number, highest: number, safe: number, base: number): number {
  // For those who ask for nothing, safe + level * (base - safe) is highest at one end of the levels.
  return Math.max(mix(safe, base, lowest), mix(safe, base, highest));
}

/** From safe (0) to live (1). */
export function mix(safe: number, live: number, level: number): number {
  return safe + level * (live - safe);
}

/**
 * What one mapping asks of a light that crossfades, from its safe value to its live one; in a cue that has the
 * mapping off it asks for nothing.
 * @param of index of the mapping
 * @param c index in the arrays by channel
 * @param value if the cue lets the mapping act fully
 * @param sure the least of that which shows, whoever is lost
 * @param shown what each cue makes of it, for an explanation
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

/** The same for a light that moves: its fade stands in for the trust. */
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

/** All cues together, weighted by their shares of the light. */
export function crossfadeAsks(
  { values }: CueAsks,
  { ofLight, blend }: Crossfades,
  { kind, intensity, asked }: Lights,
): void {
  const cues = blend.length;
  for (let light = 0; light < kind.length; light++) {
    if (ofLight[light] === undefined || (intensity[light] as number) < 0) continue;
    // Starts from the first cue, so that a value that all of them ask for stays the same to the bit.
    const first = values[cues * light] as number;
    let sum = first;
    for (let k = 1; k < cues; k++) {
      sum += (blend[k] as Blended).weight * ((values[cues * light + k] as number) - first);
    }
    asked[light] = sum;
  }
}

/** What was noted of each wish: its own result, and its share of the light, where it is the highest. */
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
      // NaN if the cue has it off.
      if (Number.isNaN(wish)) continue;
      result += weight * wish;
      if (wish >= (values[at + k] as number)) share += weight;
    }
    noted[i] = { ...one, result, share, inCues: undefined };
  }
}
