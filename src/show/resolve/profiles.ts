import { attributeUnit, isAttribute, isEmitter } from '../../fixtures/attributes.js';
import {
  type ChannelColours,
  type ChannelOptions,
  lacksDimmer,
  type ProfileMotion,
  type ProfileOptics,
  type ProfileOptions,
  withVirtualDimmer,
} from '../../fixtures/profile.js';
import { own } from '../../stage/own.js';
import type { ChannelFile, ModeFile, ProfileFile } from '../schema/profile.js';
import type { FixtureFile, ShowFile } from '../schema/schema.js';
import { BUILTIN_PROFILES } from './builtin-profiles.js';

/** The slots of each channel of a mode, from 1: as they are given, or those after the channel above. */
export function slotsOf({ channels }: ModeFile): readonly (readonly number[])[] {
  let next = 1;
  return channels.map(({ slots, bits, copies }) => {
    const own = slots ?? Array.from({ length: bits / 8 }, (_, i) => next + i);
    next = Math.max(...own, ...(copies ?? []).flat()) + 1;
    return own;
  });
}

/** One mode of a profile in the stage's terms; channels with an unknown attribute are left out. */
function optionsOf(name: string, profile: ProfileFile, mode: ModeFile): ProfileOptions {
  const channels: ChannelOptions[] = [];
  const dimsEmitters = lacksDimmer(mode.channels);
  const places = slotsOf(mode);
  for (const [index, channel] of mode.channels.entries()) {
    const slots = places[index] ?? [];
    if (!isAttribute(channel.attribute)) continue;
    const [from, to] = channel.range ?? [0, 100];
    const values = Object.entries(channel.values ?? {}).map(
      ([value, at]): [string, readonly [number, number]] => [value, namedLevels(at)],
    );
    channels.push({
      attribute: channel.attribute,
      bits: channel.bits,
      unit: channel.unit,
      offsets: slots.map(slot => slot - 1),
      copies: channel.copies?.map(copy => copy.map(slot => slot - 1)),
      from,
      to,
      levels: channel.levels,
      values: Object.fromEntries(values),
      snap: channel.snap,
      default:
        channel.default ??
        // Behind a virtual dimmer the colours stand open: Dimmer alone then gives light.
        (dimsEmitters && isEmitter(channel.attribute)
          ? Math.max(from, to)
          : Math.max(Math.min(from, to), Math.min(0, Math.max(from, to)))),
      highlight: channel.highlight,
      ...coloursOf(channel),
    });
  }
  return withVirtualDimmer({
    name,
    channels,
    fixed: mode.fixed.map(({ slot, level }) => ({ offset: slot - 1, level })),
    optics: opticsOf(profile),
    motion: motionOf(profile),
  });
}

function coloursOf({ emitter, filter, values }: ChannelFile): ChannelColours {
  const stated = (one: { xy: [number, number]; luminance: number } | undefined) =>
    one && { x: one.xy[0], y: one.xy[1], luminance: one.luminance };
  const places = Object.entries(values ?? {}).flatMap(([name, at]) => {
    const { xy, luminance = 100 } = typeof at === 'number' || !('levels' in at) ? {} : at;
    const place = xy && stated({ xy, luminance });
    return place === undefined ? [] : [[name, place] as const];
  });
  return {
    emitter: stated(emitter),
    filter: stated(filter),
    places: places.length === 0 ? undefined : Object.fromEntries(places),
  };
}

/** First and last level of a named value as a file has it. */
export function namedLevels(
  at: NonNullable<ChannelFile['values']>[string],
): readonly [number, number] {
  if (typeof at === 'number') return [at, at];
  return 'levels' in at ? at.levels : at;
}

function opticsOf({ optics }: ProfileFile): ProfileOptics {
  return {
    beamAngleDeg: optics?.beamAngle,
    fieldAngleDeg: optics?.fieldAngle,
    luminousFluxLm: optics?.luminousFlux,
    beamRadiusM: optics?.beamRadius,
    colourTemperatureK: optics?.colourTemperature,
  };
}

function motionOf({ motion }: ProfileFile): ProfileMotion {
  return {
    Pan: motion?.pan,
    Tilt: motion?.tilt,
    Zoom: motion?.zoom,
    Iris: motion?.iris,
    Focus1: motion?.focus,
  };
}

/** Whether a channel must say its range: there is a usual one for per cent only. */
export function needsRange({ attribute, unit }: ChannelFile): boolean {
  return isAttribute(attribute) && (unit ?? attributeUnit(attribute)) !== 'per cent';
}

/** Name in `ProfileModes` for the mode of a profile without modes. */
export const ONLY_MODE = '';

/** The modes of one profile, by name. */
export type ProfileModes = ReadonlyMap<string, ProfileOptions>;

/** All profiles of a show by name: its own and the built-in ones, without those in files not yet read. */
export function profilesOf(show: ShowFile): ReadonlyMap<string, ProfileModes> {
  const profiles = new Map<string, ProfileModes>(
    BUILTIN_PROFILES.map(profile => [profile.name, new Map([[ONLY_MODE, profile]])]),
  );
  for (const [name, profile] of Object.entries(show.profiles)) {
    if (!('file' in profile)) profiles.set(name, modesOf(name, profile));
  }
  return profiles;
}

/** The modes of a profile as they stand in its file, with the path to each from the profile's own. */
export function modeFilesOf(
  profile: ProfileFile,
): readonly { readonly name: string; readonly mode: ModeFile; readonly path: readonly string[] }[] {
  if (!('modes' in profile)) return [{ name: ONLY_MODE, mode: profile, path: [] }];
  return Object.entries(profile.modes).map(([name, mode]) => ({
    name,
    mode,
    path: ['modes', name],
  }));
}

function modesOf(name: string, profile: ProfileFile): ProfileModes {
  return new Map(
    modeFilesOf(profile).map(({ name: mode, mode: file }) => [
      mode,
      optionsOf(mode === ONLY_MODE ? name : `${name}/${mode}`, profile, file),
    ]),
  );
}

/** The profile of a fixture in the mode that is set on it; undefined if not known. */
export function profileFor(
  profiles: ReadonlyMap<string, ProfileModes>,
  { profile, mode }: FixtureFile,
): ProfileOptions | undefined {
  const modes = profiles.get(profile);
  if (mode !== undefined) return modes?.get(mode);
  return modes?.size === 1 ? [...modes.values()][0] : undefined;
}

/** The same as it stands in the file; undefined also for a profile that is built in. */
export function modeFileFor(
  { profiles }: ShowFile,
  { profile: name, mode }: FixtureFile,
): ModeFile | undefined {
  const profile = own(profiles, name);
  if (profile === undefined || 'file' in profile) return undefined;
  const modes = modeFilesOf(profile);
  return mode === undefined && modes.length === 1
    ? modes[0]?.mode
    : modes.find(one => one.name === mode)?.mode;
}
