import { type AttributeClass, attributeClass } from '../../fixtures/attributes.js';
import { encodeFixture, rawValues, toRaw } from '../../fixtures/encode.js';
import { DEFAULT_AXIS_MOTION } from '../../fixtures/head-motion.js';
import { type Channel, type Profile, placesOf } from '../../fixtures/profile.js';
import type { FallbackChannel, FallbackFixture, FallbackPlan } from '../../safety/fallback.js';
import type { HazardClass } from '../../safety/hazard.js';
import { beamGateOf } from './keep-out.js';
import { type FixturePlan, type GroundUse, type Show, SLOTS_PER_UNIVERSE } from './model.js';

/**
 * Levels of all universes, 512 each, with every fixture at its safe values.
 * @param cue index of the cue that is on; ignored in a show without cues
 */
export function safeLook(show: Show, cue = 0): Uint8Array {
  const levels = new Uint8Array(show.universes.length * SLOTS_PER_UNIVERSE);
  for (const [index, fixture] of show.fixtures.entries()) {
    const { profile, firstSlot } = fixture;
    encodeFixture(profile, safeValues(show, cue, index), levels, firstSlot);
    // The engine and the supervisor begin with this look, and touch none of these slots again.
    for (const { offset, level } of profile.fixed) levels[firstSlot + offset] = level;
  }
  return levels;
}

/** Values of a fixture in the safe look of a cue, physical; a show without cues has one safe look. */
export function safeValues(
  { cues, fixtures }: Show,
  cue: number,
  index: number,
): readonly number[] {
  return cues[cue]?.safe[index] ?? (fixtures[index] as FixturePlan).safe;
}

/**
 * What the supervisor needs to take every channel to its safe value by itself, in one cue.
 * @param ground the desk's levels of all universes, kept up to date elsewhere; undefined: safe values are the show's own
 */
export function fallbackPlan(show: Show, cue = 0, ground?: Uint8Array): FallbackPlan {
  const { engineSilent, returnS, moveS, rearmS } = show.watchdog;
  return {
    fixtures: show.fixtures.map(
      (fixture, index): FallbackFixture => ({
        channels: fallbackChannels(fixture, safeValues(show, cue, index)),
        moves: moves(fixture),
        safeIsDark: safeIsDark(fixture, safeValues(show, cue, index)),
        fadeS: fixture.fadeS,
        gate: beamGateOf(show, index),
      }),
    ),
    levelCount: show.universes.length * SLOTS_PER_UNIVERSE,
    safeLook: safeLook(show, cue),
    times: { fadeS: engineSilent.fadeS, returnS, moveS },
    rearmS,
    ground,
  };
}

/**
 * What a channel takes from the desk's level at its slots. A shutter that can strobe takes nothing: a hazard never
 * passes from the ground.
 */
export function groundUseOf({ ground, strobes, profile }: FixturePlan, index: number): GroundUse {
  if (strobes[index] !== undefined) return 'ours';
  const use = ground[index] ?? 'ours';
  // Behind a virtual dimmer the emitters are the intensity.
  const { channels, virtualDimmer } = profile;
  const scales = channels[index]?.dimmed === true && ground[virtualDimmer] === 'scale';
  return scales && use === 'ours' ? 'scale' : use;
}

/** Slots are all that it sees: behind a virtual dimmer, the emitters are the intensity. */
function fallbackChannels(plan: FixturePlan, safe: readonly number[]): FallbackChannel[] {
  const { profile, firstSlot, hazards, strobes } = plan;
  const raws = rawValues(profile, safe);
  return profile.channels.flatMap((channel, index) => {
    if (index === profile.virtualDimmer) return [];
    const kind = channel.dimmed ? 'intensity' : attributeClass(channel.attribute);
    const whole = isHazardous(hazards, index, channel.dimmed ? profile.virtualDimmer : -1);
    const use = groundUseOf(plan, index);
    // Each field by its name: spread objects have shapes of their own for V8, which a beat would look up channel by channel.
    return placesOf(channel).map(
      (place): FallbackChannel => ({
        slots: place.map(offset => firstSlot + offset),
        class: kind,
        safeRaw: raws[index] ?? 0,
        darkRaw: darkRaw(channel),
        stepped: channel.snap,
        dropsAtOnce: whole || strobes[index] !== undefined,
        hazardRaws: whole ? undefined : strobes[index],
        motion: rawMotion(profile, channel),
        ground: use === 'ours' ? undefined : use,
      }),
    );
  });
}

/** The limits of Pan and Tilt, raw steps a second and a second squared. */
function rawMotion({ motion }: Profile, channel: Channel): FallbackChannel['motion'] {
  const { attribute, rawPerPhysical } = channel;
  if (attribute !== 'Pan' && attribute !== 'Tilt') return undefined;
  const { speed, acceleration = Number.POSITIVE_INFINITY } =
    motion[attribute] ?? DEFAULT_AXIS_MOTION;
  const steps = Math.abs(rawPerPhysical);
  return { speed: speed * steps, acceleration: acceleration * steps };
}

/** An emitter behind a virtual dimmer is as hazardous as the dimmer. */
function isHazardous(hazards: readonly HazardClass[], channel: number, dimmer: number): boolean {
  return hazards[channel] !== 'ordinary' || (dimmer >= 0 && hazards[dimmer] !== 'ordinary');
}

/** Whether a fixture has a pan or a tilt, so that it goes to the safe look through the dark. */
export function moves(fixture: FixturePlan): boolean {
  return hasClass(fixture, 'movement');
}

/**
 * Whether its safe look gives no light, or it has no intensity of its own. If its safe intensity is the desk's, that
 * is not known beforehand.
 */
export function safeIsDark(fixture: FixturePlan, safe: ArrayLike<number> = fixture.safe): boolean {
  return fixture.profile.channels.every(
    (channel, index) =>
      attributeClass(channel.attribute) !== 'intensity' ||
      (groundUseOf(fixture, index) !== 'safe' &&
        toRaw(channel, safe[index] ?? channel.default) === darkRaw(channel)),
  );
}

/** The channel's value at an intensity of 0 per cent, or at the end of its range nearest to that. */
function darkRaw(channel: Channel): number {
  return toRaw(channel, 0);
}

function hasClass(fixture: FixturePlan, wanted: AttributeClass): boolean {
  return fixture.profile.channels.some(channel => attributeClass(channel.attribute) === wanted);
}
