import { attributeClass } from '../fixtures/attributes.js';
import { decode } from '../fixtures/encode.js';
import type { Show } from '../show/model/model.js';

/**
 * Intensity that leaves for each fixture, per cent, read from the slots: whoever fades it, engine or supervisor. null: it
 * has none, or one without a slot of its own (a virtual dimmer), which can't be told from the colour.
 * @param levels of all universes, 512 each
 */
export function sentOf({ fixtures }: Show, levels: Readonly<Uint8Array>): (number | null)[] {
  return fixtures.map(({ profile: { channels }, firstSlot }) => {
    const channel = channels.find(({ attribute }) => attributeClass(attribute) === 'intensity');
    if (channel === undefined || channel.offsets.length === 0) return null;
    return Math.round(100 * decode(channel, levels as Uint8Array, firstSlot)) / 100;
  });
}
