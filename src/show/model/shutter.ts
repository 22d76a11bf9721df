import type { Channel } from '../../fixtures/profile.js';

/** What makers call it, alone or with other words: "closed", "Shutter closed", "blackout". Common practice. */
const CLOSED = /\bclosed?\b|\bshut\b|\bblackout\b/i;

/** Whether a channel can keep all light in: a shutter, also one that strobes. */
export function isShutter({ attribute }: Pick<Channel, 'attribute'>): boolean {
  return /^Shutter[12](Strobe)?$/.test(attribute);
}

/**
 * Whether it is closed at this physical value. With named values the nearest name decides; without names 0 is closed
 * for a shutter (common practice; GDTF has 0 for closed, from memory), but not for a strobe rate.
 */
export function isShut(channel: Channel, value: number): boolean {
  const { attribute, values, from, to } = channel;
  if (!isShutter(channel)) return false;
  if (values.size === 0) {
    return !attribute.endsWith('Strobe') && value === Math.max(Math.min(from, to), 0);
  }
  let [nearest, away] = ['', Number.POSITIVE_INFINITY];
  for (const [name, at] of values) {
    if (Math.abs(at - value) >= away) continue;
    [nearest, away] = [name, Math.abs(at - value)];
  }
  return CLOSED.test(nearest.replaceAll(/[-_]/g, ' '));
}
