import { attributeClass } from '../../fixtures/attributes.js';
import { toPhysical } from '../../fixtures/encode.js';
import { clearance, type HeadKeepOut, headKeepOut } from '../../fixtures/keep-out.js';
import { type Channel, type Profile, placesOf } from '../../fixtures/profile.js';
import type { BeamGate } from '../../safety/beam-gate.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import type { FixturePlan, Show } from './model.js';

type Kept = Pick<Show, 'fixtures' | 'keepOuts'>;

/**
 * Time beyond the lag in the show before a head counts as gone, seconds: it is two packets behind its slots, and a
 * DMX512 reader one more.
 */
const BEHIND_S = 0.1;

/** Parts of the room that a fixture may not shine into; undefined if it can't aim, or may shine anywhere. */
export function keepOutOf({ fixtures, keepOuts }: Kept, index: number): HeadKeepOut | undefined {
  const plan = fixtures[index];
  if (plan?.head === undefined || keepOuts.length === 0) return undefined;
  const there = known.get(plan);
  if (there !== undefined) return there;
  const volumes = keepOuts.flatMap(({ volume, heads }, i) =>
    heads.includes(index) ? [[i, volume] as const] : [],
  );
  if (volumes.length === 0) return undefined;
  const made = headKeepOut(plan.head, plan.profile, volumes);
  known.set(plan, made);
  return made;
}

/** It never changes, and each cue and both processes need it. */
const known = new WeakMap<FixturePlan, HeadKeepOut>();

/** A dark head comes up only this far from it. */
export const COMES_UP_RAD = Math.PI / 180;

/**
 * Index of the part of the room that a look (physical values) of a fixture shines into; undefined: into none, or dark.
 * @param withinRad a beam this near counts too
 */
export function shinesInto(
  show: Kept,
  index: number,
  values: ArrayLike<number>,
  withinRad = 0,
): number | undefined {
  const keepOut = keepOutOf(show, index);
  const { profile, panChannel, tiltChannel } = show.fixtures[index] as FixturePlan;
  if (keepOut === undefined || isDark(profile, values)) return undefined;
  const [pan, tilt] = [radians(values[panChannel] ?? 0), radians(values[tiltChannel] ?? 0)];
  const zoom = values[keepOut.field.zoom] ?? 0;
  return clearance(keepOut, pan, tilt, zoom) < withinRad ? keepOut.nearest : undefined;
}

function isDark({ channels }: Profile, values: ArrayLike<number>): boolean {
  return channels.some(
    ({ attribute, default: byDefault }, c) =>
      attributeClass(attribute) === 'intensity' && (values[c] ?? byDefault) === 0,
  );
}

/** What the supervisor holds a fixture to; its channels are as in the fallback plan. */
export function beamGateOf(show: Kept, index: number): BeamGate | undefined {
  const keepOut = keepOutOf(show, index);
  if (keepOut === undefined) return undefined;
  const { profile, panChannel, tiltChannel, lagS } = show.fixtures[index] as FixturePlan;
  const { channels, virtualDimmer } = profile;
  const { zoom } = keepOut.field;
  const places: number[] = [];
  let count = 0;
  channels.forEach((channel, c) => {
    places.push(c === virtualDimmer ? -1 : count);
    if (c !== virtualDimmer) count += placesOf(channel).length;
  });
  const physical = (channel: number, raw: number) =>
    channel < 0 ? 0 : toPhysical(channels[channel] as Channel, raw);
  return {
    pan: places[panChannel] as number,
    tilt: places[tiltChannel] as number,
    zoom: zoom < 0 ? -1 : (places[zoom] as number),
    lamps: channels.flatMap((channel, c) =>
      c !== virtualDimmer && (channel.dimmed || attributeClass(channel.attribute) === 'intensity')
        ? placesOf(channel).map((_, k) => (places[c] as number) + k)
        : [],
    ),
    touches: (pan, tilt, zoomed) =>
      clearance(
        keepOut,
        radians(physical(panChannel, pan)),
        radians(physical(tiltChannel, tilt)),
        physical(zoom, zoomed),
        0,
      ) < 0,
    leavesInS: lagS + BEHIND_S,
  };
}

function radians(degrees: number) {
  return toRadians(degrees as Degrees);
}
