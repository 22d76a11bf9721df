import { KIND, type Lights } from '../values/lights.js';

/**
 * Why each value of a tick is what it is, noted by the stages if somebody asked (view.ts); explain.ts turns it into
 * an answer. Physical values, by the channels of `Lights`.
 */
export interface Explaining {
  /** In the order in which they were merged. */
  readonly wishes: Wish[];
  /** Values after the merge, the aim, the guard, and the steering of heads in the dark. */
  readonly merged: Float64Array;
  readonly aimed: Float64Array;
  readonly guarded: Float64Array;
  readonly steered: Float64Array;
  /** And with what is left of the old show's light after a reload. */
  readonly crossed: Float64Array;
  /** And with the highlight. */
  readonly highlighted: Float64Array;
}

/** What one mapping asked of one channel. */
export interface Wish {
  readonly channel: number;
  /** The part of a mapping that has one level: a binding (map.ts) or a lane (lanes.ts). */
  readonly driver: { readonly level: number };
  /** From safe (0) to live (1). */
  readonly trust: number;
  /** What it asked for, if it were fully live. */
  readonly asks: number;
  /** The channel's value once this was merged; for intensities where the highest counts, the result of this one alone. */
  readonly result: number;
  /** For these, during a crossfade between cues: the share of the light in which it is the highest, 0..1. */
  readonly share?: number;
  /** What each of the cues makes of it, until `noteShares` has combined them. */
  readonly inCues?: Float64Array | undefined;
}

export function createExplaining({ wanted }: Lights): Explaining {
  const values = () => new Float64Array(wanted.length);
  return {
    wishes: [],
    merged: values(),
    aimed: values(),
    guarded: values(),
    steered: values(),
    crossed: values(),
    highlighted: values(),
  };
}

/** What is wanted of all channels, with the intensities asked; nothing is asked of lights that no mapping touches. */
export function noteWanted(into: Float64Array, { wanted, asked, intensity, kind }: Lights): void {
  into.set(wanted);
  for (let light = 0; light < intensity.length; light++) {
    const at = intensity[light] as number;
    if (at >= 0 && kind[light] !== KIND.idle) into[at] = asked[light] as number;
  }
}

/** The output of a section's lights so far. */
export function noteOut(
  into: Float64Array,
  { out, start, sections }: Lights,
  section: number,
): void {
  for (const light of sections[section] as Int32Array) {
    const from = start[light] as number;
    into.set(out.subarray(from, start[light + 1]), from);
  }
}
