import type { FixturePlan } from '../show/model.js';
import type { Binding, Crowd, Light, Trust } from './state.js';

/**
 * The numbers that each tick goes through for every light, one light after the other in flat arrays.
 * A tick begins with nothing in the processor's cache: what is scattered over objects costs several
 * times as much to fetch as to compute with.
 */
export interface LightTable {
  /** Of all channels of all lights: physical values that the mappings want, and those that go out. */
  readonly live: Float64Array;
  readonly out: Float64Array;
  readonly safe: Float64Array;
  readonly base: Float64Array;
  /** 1 for each channel whose values are choices: it goes from one to the next at once. */
  readonly stepped: Uint8Array;
  /** For each light its first channel in these; and one entry more, so that the next one's is its end. */
  readonly start: Int32Array;
  /** For each light the channel of its intensity in these, -1 where it has none. */
  readonly intensity: Int32Array;
  /** For each light one of KIND. */
  readonly kind: Uint8Array;
  /** For each light 1 while its retreat is at 'live'. */
  readonly steady: Uint8Array;
  /** For each light the performer whom it follows, -1 for nobody. */
  readonly followed: Int32Array;
  readonly crowds: (Crowd | undefined)[];
  /** For each light the intensity that is asked of it in this tick. */
  readonly asked: Float64Array;
  /** For each light that moves the intensity last asked; held while it fades out. */
  readonly wanted: Float64Array;
}

/** No mapping touches it; it crossfades; or it can move, and does so in the dark only. */
export const KIND = { idle: 0, still: 1, moving: 2 } as const;

/** What the mappings ask of intensities, the asks of one binding one after the other. */
export interface Asks {
  readonly light: Int32Array;
  /** Intensity at full level, physical. */
  readonly full: Float64Array;
  readonly trust: readonly Trust[];
  /** 1 where the light follows this performer: its retreat stands for the trust. */
  readonly governs: Uint8Array;
}

export interface Ask {
  readonly binding: Binding;
  readonly light: number;
  readonly full: number;
  readonly trust: Trust;
  readonly governs: boolean;
}

export function createTable(fixtures: readonly FixturePlan[]): LightTable {
  const count = fixtures.length;
  const start = new Int32Array(count + 1);
  fixtures.forEach((plan, i) => {
    start[i + 1] = (start[i] as number) + plan.profile.channels.length;
  });
  return {
    live: Float64Array.from(fixtures.flatMap(plan => plan.base)),
    out: Float64Array.from(fixtures.flatMap(plan => plan.safe)),
    safe: Float64Array.from(fixtures.flatMap(plan => plan.safe)),
    base: Float64Array.from(fixtures.flatMap(plan => plan.base)),
    stepped: Uint8Array.from(
      fixtures.flatMap(plan => plan.profile.channels),
      channel => (channel.snap ? 1 : 0),
    ),
    start,
    intensity: new Int32Array(count).fill(-1),
    kind: new Uint8Array(count),
    steady: new Uint8Array(count),
    followed: new Int32Array(count).fill(-1),
    crowds: [],
    asked: new Float64Array(count),
    wanted: new Float64Array(count),
  };
}

export function enterLight(table: LightTable, index: number, light: Light): void {
  const { crowd, intensity, follow, moves } = light;
  table.crowds[index] = crowd;
  table.kind[index] = crowd === undefined ? KIND.idle : moves ? KIND.moving : KIND.still;
  if (intensity >= 0) table.intensity[index] = (table.start[index] as number) + intensity;
  if (follow !== undefined) table.followed[index] = follow.performer;
}

/** Sorts the asks by binding, and tells each binding which are its own. */
export function createAsks(asks: readonly Ask[], bindings: readonly Binding[]): Asks {
  const sorted: Ask[] = [];
  for (const binding of bindings) {
    binding.firstAsk = sorted.length;
    sorted.push(...asks.filter(ask => ask.binding === binding));
    binding.endAsk = sorted.length;
  }
  return {
    light: Int32Array.from(sorted, ask => ask.light),
    full: Float64Array.from(sorted, ask => ask.full),
    trust: sorted.map(ask => ask.trust),
    governs: Uint8Array.from(sorted, ask => (ask.governs ? 1 : 0)),
  };
}
