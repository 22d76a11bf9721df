import type { Channel } from '../../fixtures/profile.js';
import type { FixturePlan } from '../model/model.js';
import { TARGET, valuesOfLook } from '../palettes/look-values.js';
import type { LookFile } from '../schema/look.js';
import { aimedAt, type TargetsFile, targetPlace } from './targets.js';

/** The values below, with those of the look in their place; a target and an aim become a pan and a tilt. */
export function applyLook(
  below: readonly number[],
  look: LookFile,
  file: TargetsFile,
  fixture: Pick<FixturePlan, 'profile' | 'head' | 'panChannel' | 'tiltChannel'>,
): number[] {
  const { profile, head, panChannel, tiltChannel } = fixture;
  const values = [...below];
  const attributes = valuesOfLook(look, profile, file.palettes);
  profile.channels.forEach((channel, index) => {
    const value = attributes[channel.attribute];
    if (value !== undefined) values[index] = physicalIn(channel, value);
  });
  const place = look[TARGET] === undefined ? look.aim : targetPlace(file, look[TARGET]);
  if (place !== undefined && head !== undefined) {
    const { panDeg, tiltDeg } = aimedAt(head, place);
    values[panChannel] = panDeg;
    values[tiltChannel] = tiltDeg;
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
