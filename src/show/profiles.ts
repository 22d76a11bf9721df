import { attributeUnit, isAttribute } from '../fixtures/attributes.js';
import type { ChannelOptions, ProfileOptions } from '../fixtures/profile.js';
import { BUILTIN_PROFILES } from './builtin-profiles.js';
import type { ProfileFile, ShowFile } from './schema.js';

/** The profile of a file in the stage's terms; channels with an unknown attribute are left out. */
export function profileOptionsOf(name: string, profile: ProfileFile): ProfileOptions {
  const channels: ChannelOptions[] = [];
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
      offsets: slots.map(slot => slot - 1),
      from,
      to,
      default: channel.default ?? Math.max(Math.min(from, to), Math.min(0, Math.max(from, to))),
    });
  }
  return { name, channels };
}

/** Whether a channel must say its range: there is no usual one for an angle. */
export function needsRange(attribute: string): boolean {
  return isAttribute(attribute) && attributeUnit(attribute) === 'degrees';
}

/** All profiles of a show by name: its own and the built-in ones. */
export function profilesOf(show: ShowFile): ReadonlyMap<string, ProfileOptions> {
  const profiles = new Map(BUILTIN_PROFILES.map(profile => [profile.name, profile]));
  for (const [name, profile] of Object.entries(show.profiles)) {
    profiles.set(name, profileOptionsOf(name, profile));
  }
  return profiles;
}
