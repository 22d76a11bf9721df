import type { Channel } from '../../fixtures/profile.js';

/** What makers call it, alone or with other words: "closed", "Shutter closed", "blackout". Common practice. */
const CLOSED = /\bclosed?\b|\bshut\b|\bblackout\b/i;

/** Whether a channel can keep all light in: a shutter, also one that strobes. */
export function isShutter({ attribute }: Pick<Channel, 'attribute'>): boolean {
  return /^Shutter[12](Strobe)?$/.test(attribute);
}

/**
 * Whether it does at this physical value. Of one with named values the nearest of them says it; without names 0 is closed
 * for a shutter (common practice; GDTF has 0 for closed, from memory), and for the rate of a strobe it is not.
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
