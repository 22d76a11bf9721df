import type { SoftEdge } from '../mapping/options.js';
import type { AreaOptions } from '../stage/area.js';
import type { People } from './doubt.js';

/** What signals need of a zone. */
export interface SignalZone {
  /** Of one that moves its middle is 0, 0. */
  readonly area: AreaOptions;
  readonly edge: SoftEdge;
  readonly around: number | undefined;
}

/** Of each performer in one zone. */
export type PresencesOf = readonly { readonly level: number }[];

/** For each zone those who may be in it, ascending; the others surely are not. */
export interface Nearby {
  /** From zone * performers on, as many as `count` says for the zone. */
  readonly who: Int32Array;
  readonly count: Int32Array;
}

/** What the sources look at in a tick. */
export interface Scene {
  readonly people: People;
  /** Of each zone and performer, 0 to 1; of who is not known it is the last. */
  readonly presences: readonly PresencesOf[];
  readonly nearby: Nearby;
  /** By signal: the last number that came in, and when, monotonic seconds; minus infinity before. */
  readonly numbers: { readonly value: Float64Array; readonly heardS: Float64Array };
  /** Since the first tick, and since the machine's start; seconds. */
  elapsedS: number;
  nowS: number;
  /** How the light goes that rests on an input which is silent, seconds. */
  readonly silentFadeS: number;
}
