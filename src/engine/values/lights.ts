import { attributeClass } from '../../fixtures/attributes.js';
import { aims, driversOf, mappingsOf, unionOf } from '../../show/model/basis.js';
import type { CuePlan, FixturePlan, MappingPlan, Show } from '../../show/model/model.js';
import { moves } from '../../show/model/safe-look.js';
import { sectionsOf } from '../../show/model/sections.js';
import { mapInParts } from '../../stage/in-parts.js';

/**
 * The fixtures of a show as a tick sees them: their constants, and three values that go from stage to stage. All in
 * flat arrays, one light after the other: a tick begins with an empty processor cache, and data scattered over
 * objects costs several times as much to fetch as to compute with.
 */
export interface Lights {
  readonly plans: readonly FixturePlan[];
  /** For each light its first channel in the arrays by channel; and one entry more, as the next one's start is its end. */
  readonly start: Int32Array;
  /** For each light the channel of its intensity in these, -1 where it has none. */
  readonly intensity: Int32Array;
  /** For each light one of KIND. */
  readonly kind: Uint8Array;
  /** For each light the performer whom it follows, -1 for nobody: written by `takeFollow`, where cues change it. */
  readonly followed: Int32Array;
  /** For each light 1 while it chooses whom it follows, is on nobody, and shows light for nobody: written by `choose`. */
  readonly onNobody: Uint8Array;
  /** Like `followed`: for each light the one whose fade its own follows (as in `Watched.believed`), -1 for no single one. */
  readonly governor: Int32Array;
  /** For each light those it depends on, ascending. */
  readonly drivers: readonly (readonly number[])[];
  /** For each light those whose trust it goes by, as in `Watched.believed`; empty if no mapping touches it. */
  readonly believes: readonly (readonly number[])[];
  /** The lights whose universes leave together, for each section in the order of show/model/sections.ts. */
  readonly sections: readonly Int32Array[];
  /** Physical values of each channel; with cues, those of the present cue, written by `cues`. */
  readonly safe: Float64Array;
  readonly base: Float64Array;
  /** The physical range of each channel: sums and products of wishes stay within it. */
  readonly least: Float64Array;
  readonly greatest: Float64Array;
  /** 1 for each channel whose values are choices: it goes from one to the next at once. */
  readonly stepped: Uint8Array;
  /** 1 for each channel that moves the beam: pan and tilt. */
  readonly movement: Uint8Array;
  /**
   * For each light 1 while it goes dark with the cue that is coming on: until it is dark it keeps its aim, wheels and
   * shutter. Written by `takeHeads`, as is `muted`.
   */
  readonly holds: Uint8Array;
  /** For each light 1 once it is dark: it moves, and what the old cue still asks for does not show at the new aim. */
  readonly muted: Uint8Array;
  /** What the mappings want, physical: written by `map`, and by `aim` for heads that follow. */
  readonly wanted: Float64Array;
  /** For each light the intensity asked of it: written by `ask`, and by `aim` if it is compensated. */
  readonly asked: Float64Array;
  /** Scratch of `map` for the channels of one light between cues: the first cue's values, and the result. */
  readonly scratch: Float64Array;
  /** What goes out, physical: written by `guard`, by `steer` in the dark, and last by `gateHazards`. */
  readonly out: Float64Array;
}

/** No mapping touches it; it crossfades; or it can move (for a mapping or another cue), and does so only in the dark. */
export const KIND = { idle: 0, still: 1, moving: 2 } as const;

export function* createLights(show: Show): Generator<undefined, Lights> {
  const { fixtures: plans, mappings, cues } = show;
  const [firstCue] = cues;
  const start = new Int32Array(plans.length + 1);
  plans.forEach((plan, i) => {
    start[i + 1] = (start[i] as number) + plan.profile.channels.length;
  });
  const drivers = yield* mapInParts(plans, (_, i) => driversOf(show, i));
  yield;
  const believes = yield* mapInParts(plans, (_, i) => believesOf(show, i), 100);
  yield;
  const channels = plans.flatMap(({ profile }) => profile.channels);
  const flags = (is: (channel: (typeof channels)[number]) => boolean) =>
    Uint8Array.from(channels, channel => (is(channel) ? 1 : 0));
  const sections = sectionsOf(show).map(({ firstUniverse, endUniverse }) =>
    Int32Array.from(
      plans.flatMap(({ universe }, i) =>
        universe >= firstUniverse && universe < endUniverse ? [i] : [],
      ),
    ),
  );
  yield;
  const safe = firstCue?.safe.flat() ?? plans.flatMap(one => one.safe);
  const base = firstCue?.base.flat() ?? plans.flatMap(one => one.base);
  return {
    plans,
    start,
    least: Float64Array.from(channels, ({ from, to }) => Math.min(from, to)),
    greatest: Float64Array.from(channels, ({ from, to }) => Math.max(from, to)),
    intensity: Int32Array.from(plans, (plan, i) => {
      const channel = intensityOf(plan);
      return channel < 0 ? -1 : (start[i] as number) + channel;
    }),
    kind: Uint8Array.from(plans, (plan, i) =>
      kindOf(plan, believes[i]?.length !== 0, cuesChange(cues, i)),
    ),
    onNobody: new Uint8Array(plans.length),
    followed: Int32Array.from(plans, (_, i) => {
      const mapping = mappings[followMappingIn(mappings, firstCue, plans, i)];
      return mapping?.kind === 'follow' ? mapping.performer : -1;
    }),
    governor: Int32Array.from(plans, (_, i) => {
      const index = followMappingIn(mappings, firstCue, plans, i);
      return index < 0 ? -1 : (believedOf(show, index)[0] as number);
    }),
    drivers,
    believes,
    sections,
    safe: Float64Array.from(safe),
    base: Float64Array.from(base),
    stepped: flags(({ snap }) => snap),
    movement: flags(({ attribute }) => attributeClass(attribute) === 'movement'),
    holds: new Uint8Array(plans.length),
    muted: new Uint8Array(plans.length),
    wanted: Float64Array.from(base),
    asked: new Float64Array(plans.length),
    scratch: new Float64Array(2 * Math.max(0, ...plans.map(one => one.profile.channels.length))),
    out: Float64Array.from(safe),
  };
}

/** Its channel in the profile, -1 if there is none. */
export function intensityOf({ profile }: FixturePlan): number {
  return profile.channels.findIndex(({ attribute }) => attributeClass(attribute) === 'intensity');
}

/** Mappings by which a head may follow somebody in one cue or another; empty if it can't aim. */
export function followMappings(
  mappings: readonly MappingPlan[],
  { head }: FixturePlan,
  light: number,
): number[] {
  if (head === undefined) return [];
  return mappingsOf(mappings, light).filter(index => aims(mappings[index] as MappingPlan, light));
}

/** Index of the one by which it follows in a cue (in a show without cues, always); -1 for none. */
export function followMappingIn(
  mappings: readonly MappingPlan[],
  cue: CuePlan | undefined,
  plans: readonly FixturePlan[],
  light: number,
): number {
  return actingIn(cue, followMappings(mappings, plans[light] as FixturePlan, light));
}

/** The first of these mappings that acts in a cue (in a show without cues, the first); -1 for none. */
export function actingIn(cue: CuePlan | undefined, mappings: readonly number[]): number {
  return mappings.find(index => cue === undefined || (cue.levels[index] ?? 0) > 0) ?? -1;
}

/** Whether cues differ in what it shows. */
function cuesChange(cues: readonly CuePlan[], light: number): boolean {
  const [first] = cues;
  return cues.some(
    ({ base, safe }) =>
      isOther(base[light], first?.base[light]) || isOther(safe[light], first?.safe[light]),
  );
}

function isOther(a: readonly number[] | undefined, b: readonly number[] | undefined): boolean {
  return a !== b && (a ?? []).some((value, i) => value !== b?.[i]);
}

function kindOf(plan: FixturePlan, isDriven: boolean, changes: boolean): number {
  if (moves(plan)) return isDriven || changes ? KIND.moving : KIND.idle;
  return isDriven ? KIND.still : KIND.idle;
}

/** Whose trust a mapping's light goes by, as in `Watched.believed`: that of performers, or its own. */
export function believedOf({ mappings, performers }: Show, index: number): readonly number[] {
  const mapping = mappings[index] as MappingPlan;
  if (mapping.kind === 'zone') return mapping.performers;
  if (mapping.kind === 'follow' && mapping.when === undefined && mapping.choice === undefined) {
    return [mapping.performer];
  }
  return [performers.length + index];
}

function believesOf(show: Show, light: number): number[] {
  return unionOf(mappingsOf(show.mappings, light).map(index => believedOf(show, index)));
}

/** It gives light, or may, as far as is known. */
export function isLit({ intensity, out }: Lights, light: number): boolean {
  const at = intensity[light] as number;
  return at < 0 || (out[at] as number) > 0;
}

/** Its channels in one of the arrays by channel, as a view. */
export function channelsOf({ start }: Lights, values: Float64Array, light: number): Float64Array {
  return values.subarray(start[light], start[light + 1]);
}

/**
 * Values of each channel of each light, in flat arrays like those of the lights.
 * @param like the values of the cue before and their flat form: for most lights they are the same
 */
export function flatOf(
  values: readonly (readonly number[])[],
  { start }: Pick<Lights, 'start'>,
  like?: readonly (readonly number[])[],
  flatLike?: Float64Array,
): Float64Array {
  const flat = flatLike === undefined ? new Float64Array(start.at(-1) ?? 0) : flatLike.slice();
  for (let light = 0; light < values.length; light++) {
    const ofLight = values[light] as readonly number[];
    if (ofLight === like?.[light]) continue;
    const at = start[light] as number;
    for (let i = 0; i < ofLight.length; i++) flat[at + i] = ofLight[i] as number;
  }
  return flat;
}
