import { KIND, type Lights } from '../values/lights.js';

/**
 * Why each value of a tick is what it is, noted by the stages where somebody asked (view.ts); explain.ts puts it into
 * words. All physical values, by the channels of `Lights`.
 */
export interface Explaining {
  /** In the order in which they were merged. */
  readonly wishes: Wish[];
  /** After the mappings were merged, heads were aimed, the guard had its word, heads in the dark were steered. */
  readonly merged: Float64Array;
  readonly aimed: Float64Array;
  readonly guarded: Float64Array;
  readonly steered: Float64Array;
  /** And what is left of the light of the show before a reload. */
  readonly crossed: Float64Array;
  /** And what is highlighted. */
  readonly highlighted: Float64Array;
}

/** What one mapping asked of one channel. */
export interface Wish {
  readonly channel: number;
  /** What of a mapping has one level: a binding (map.ts) or a lane (lanes.ts). */
  readonly driver: { readonly level: number };
  /** From safe (0) to live (1). */
  readonly trust: number;
  /** What it asked for, as it was all live. */
  readonly asks: number;
  /** What became of the channel once this was merged; of intensities of which the highest counts, what it came to by itself. */
  readonly result: number;
  /** Of these, in the middle of a cue's crossfade: of how much of the light it is the highest, 0..1; the rest is of other cues. */
  readonly share?: number;
  /** What each of those cues makes of it, until `noteShares` has put them together. */
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

/** What is wanted of all channels, intensities as they are asked: of those that no mapping touches nothing is. */
export function noteWanted(into: Float64Array, { wanted, asked, intensity, kind }: Lights): void {
  into.set(wanted);
  for (let light = 0; light < intensity.length; light++) {
    const at = intensity[light] as number;
    if (at >= 0 && kind[light] !== KIND.idle) into[at] = asked[light] as number;
  }
}

/** What goes out of the lights of a section so far. */
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
