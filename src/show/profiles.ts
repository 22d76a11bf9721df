import { attributeUnit, isAttribute, isEmitter } from '../fixtures/attributes.js';
import {
  type ChannelOptions,
  lacksDimmer,
  type ProfileMotion,
  type ProfileOptics,
  type ProfileOptions,
  withVirtualDimmer,
} from '../fixtures/profile.js';
import { BUILTIN_PROFILES } from './builtin-profiles.js';
import type { ProfileFile } from './profile-schema.js';
import type { ShowFile } from './schema.js';

/** The profile of a file in the stage's terms; channels with an unknown attribute are left out. */
export function profileOptionsOf(name: string, profile: ProfileFile): ProfileOptions {
  const channels: ChannelOptions[] = [];
  const dimsEmitters = lacksDimmer(profile.channels);
  let next = 1;
  for (const channel of profile.channels) {
    const count = channel.bits / 8;
    const slots = channel.slots ?? Array.from({ length: count }, (_, i) => next + i);
    next = Math.max(...slots) + 1;
    if (!isAttribute(channel.attribute)) continue;
    const [from, to] = channel.range ?? [0, 100];
    channels.push({
      attribute: channel.attribute,
      bits: channel.bits,
      unit: channel.unit,
      offsets: slots.map(slot => slot - 1),
      from,
      to,
      default:
        channel.default ??
        // Behind a virtual dimmer the colours stand open: Dimmer alone then gives light.
        (dimsEmitters && isEmitter(channel.attribute)
          ? Math.max(from, to)
          : Math.max(Math.min(from, to), Math.min(0, Math.max(from, to)))),
      highlight: channel.highlight,
    });
  }
  return withVirtualDimmer({
    name,
    channels,
    optics: opticsOf(profile),
    motion: motionOf(profile),
  });
}

function opticsOf({ optics }: ProfileFile): ProfileOptics {
  return {
    beamAngleDeg: optics?.beamAngle,
    fieldAngleDeg: optics?.fieldAngle,
    luminousFluxLm: optics?.luminousFlux,
    beamRadiusM: optics?.beamRadius,
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
export function needsRange({ attribute, unit }: ProfileFile['channels'][number]): boolean {
  return isAttribute(attribute) && (unit ?? attributeUnit(attribute)) !== 'per cent';
}

/** All profiles of a show by name: its own and the built-in ones. */
export function profilesOf(show: ShowFile): ReadonlyMap<string, ProfileOptions> {
  const profiles = new Map(BUILTIN_PROFILES.map(profile => [profile.name, profile]));
  for (const [name, profile] of Object.entries(show.profiles)) {
    profiles.set(name, profileOptionsOf(name, profile));
  }
  return profiles;
}
