import { aimAt, compileHead, type HeadOptions, panTilt } from '../fixtures/kinematics.js';
import type { Channel, Profile } from '../fixtures/profile.js';
import { toDegrees } from '../stage/units.js';
import { type PalettesFile, valuesOfLook } from './look-values.js';
import type { LookFile } from './schema-look.js';

/** The values below, with those of the look in their place; an aim becomes a pan and a tilt. */
export function applyLook(
  below: readonly number[],
  look: LookFile,
  palettes: PalettesFile,
  profile: Profile,
  head: HeadOptions | undefined,
  panChannel: number,
  tiltChannel: number,
): number[] {
  const values = [...below];
  const attributes = valuesOfLook(look, profile, palettes);
  profile.channels.forEach((channel, index) => {
    const value = attributes[channel.attribute];
    if (value !== undefined) values[index] = physicalIn(channel, value);
  });
  if (look.aim !== undefined && head !== undefined) {
    const aimed = aimAt(compileHead(head), ...look.aim, 0, 0, panTilt());
    values[panChannel] = toDegrees(aimed.pan);
    values[tiltChannel] = toDegrees(aimed.tilt);
  }
  return values;
}

export function physicalIn(channel: Channel, value: number | string): number {
  return typeof value === 'number' ? value : certain(channel.values.get(value));
}

/** The cross-check has shown that it is there. */
export function certain<T>(value: T | undefined): T {
  if (value === undefined) throw new Error('a show was resolved that has not been checked');
  return value;
}
