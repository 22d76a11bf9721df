import type { SafeFadeStage } from '../../safety/fade-to-safe.js';
import type { FixturePlan, FollowChoice, Show } from '../../show/model/model.js';
import type { Vec3 } from '../../stage/vector.js';
import type { Estimate } from '../../tracking/sighting.js';
import type { Fades } from '../light/fades.js';
import type { Drive } from '../light/lanes.js';
import type { Binding } from '../light/layers.js';
import type { Watched } from '../people/watch.js';
import type { Presences } from '../people/zones.js';
import type { TrackedPerformer, Tracks } from '../reports/tracks.js';
import type { Lights } from '../values/lights.js';
import type { Aims } from './aim.js';
import type { Assignment } from './assignment.js';
import type { Follow } from './follow.js';

/** Heads that choose whom they follow. */
export interface Choices {
  readonly all: readonly Chooser[];
  /** Lights that choose in some cue, each once, with what was last reported of it. */
  readonly lights: readonly ChoosingLight[];
  readonly pools: readonly Pool[];
  /** Which of the pools that act in no cue just now has its turn. */
  turn: number;
  /** By name of head, the pins of this tick and who ordered them, or what a reload dropped; reported once a tick. */
  readonly pinned: Map<
    string,
    { readonly performer: string | undefined; readonly by?: string; readonly reason?: 'reload' }
  >;
}

export interface ChoosingLight {
  readonly light: number;
  readonly name: string;
  /** For all rules but `middle`. */
  readonly choosers: readonly Chooser[];
  /** Titles of the mappings by which it may follow, by index. */
  readonly titles: ReadonlyMap<number, string>;
  told: Told;
}

/** Whom a head is on: by a rule, or by the title of the mapping by which it follows in this cue; both undefined: nobody. */
export interface Told {
  readonly performer: string | undefined;
  readonly mapping: string | undefined;
}

/** One head by one mapping. */
export interface Chooser {
  /** Index of the mapping. */
  readonly of: number;
  readonly choice: FollowChoice;
  readonly light: number;
  readonly plan: FixturePlan;
  readonly drive: Drive;
  readonly binding: Binding;
  /** One for each person; with `middle` one for all. */
  readonly follows: readonly Follow[];
  /** Place among the people of the one it is on, -1 for nobody; and of the one it is to be on. */
  current: number;
  wanted: number;
  /** Whom it is pinned to, whatever the rule says; -1: nobody. */
  pinned: number;
  /** Its pool acts in no cue just now, and does not have its turn: whom it would be on is left as it is. */
  rests: boolean;
  /** How long it has been on them; and how long it has waited for the head that takes over, seconds. */
  forS: number;
  waitsS: number;
  /** For each person how long they have been in the zone of `first`, seconds. */
  readonly insideS: Float64Array;
  /** For each person their weight in the middle, 0..1: their trust, or 0 off stage; it moves there gradually. */
  readonly weights: Float64Array;
}

/** Heads that serve a group together. */
export interface Pool {
  readonly heads: readonly Chooser[];
  readonly assignment: Assignment;
  /** By person and head, the recent cost of a head that is not on them; NaN if it has to be computed anew. */
  readonly away: Float64Array;
  /** Whose costs are computed anew in this tick: one person in so many. */
  turn: number;
  /** It has rested, and its costs are old. */
  isStale: boolean;
}

export interface Seen {
  readonly show: Show;
  readonly tracks: Tracks;
  readonly watched: Watched;
  readonly presences: Presences;
  readonly lights: Lights;
  readonly fades: Fades;
  readonly aims: Aims;
}

export function believed({ choice: { people } }: Chooser, { watched }: Seen, i: number): boolean {
  return watched.performers[people[i] ?? -1]?.follows === true;
}

export function placeOf({ choice: { people } }: Chooser, { tracks }: Seen, i: number): Estimate {
  return (tracks.performers[people[i] as number] as TrackedPerformer).estimate;
}

export function stageOf({ light }: Chooser, { fades }: Seen): SafeFadeStage {
  return fades.safeFades[light]?.stage ?? 'live';
}

/** Some light on its performer shows, or may come up at any moment. */
export function shows(one: Chooser, seen: Seen): boolean {
  const stage = stageOf(one, seen);
  return stage === 'live' || stage === 'rising' || stage === 'fading';
}

export function apartM(
  a: Readonly<{ x: number; y: number; z: number }>,
  b: Readonly<{ x: number; y: number; z: number }>,
): number {
  const [dx, dy] = [a.x - b.x, a.y - b.y];
  return Math.sqrt(dx * dx + dy * dy);
}

/** The target of `nearest`. */
export function goalOf(to: Readonly<Vec3> | number, { tracks }: Seen): Readonly<Vec3> {
  return typeof to === 'number' ? (tracks.performers[to] as TrackedPerformer).estimate : to;
}

/** Heads wait for a performer who is lost. */
export function byOrder(one: Chooser, seen: Seen): number {
  const { pinned, current } = one;
  return pinned === current || believed(one, seen, pinned) ? pinned : -1;
}
