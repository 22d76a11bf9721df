import { describe, expect, it } from 'vitest';
import { createDmxPacket, nextArtnetSequence } from '../../../src/protocols/artnet/dmx-packet.js';

describe('ArtDmx', () => {
  it('is written in place: the slots are part of the buffer', () => {
    const packet = createDmxPacket({ portAddress: 0, slotCount: 512 });
    expect(packet.buffer).toHaveLength(530);
    expect(packet.slots).toHaveLength(512);
    packet.slots[511] = 9;
    expect(packet.buffer[529]).toBe(9);
  });

  it('counts from 1 to 255 and to 1 again, never 0 (which means: no sequence)', () => {
    expect([0, 1, 254, 255].map(nextArtnetSequence)).toEqual([1, 2, 255, 1]);
    const packet = createDmxPacket({ portAddress: 0, slotCount: 2 });
    const seen = Array.from({ length: 512 }, () => {
      packet.advanceSequence();
      return packet.buffer[12];
    });
    expect(seen.slice(0, 3)).toEqual([1, 2, 3]);
    expect(seen.slice(253, 257)).toEqual([254, 255, 1, 2]);
    expect(seen).not.toContain(0);
    packet.setSequence(77);
    expect(packet.buffer[12]).toBe(77);
  });

  it.each([
    [0, 0, 0],
    [1, 1, 0],
    [0x00ff, 0xff, 0],
    [0x0100, 0, 1],
    [0x7fff, 0xff, 0x7f],
  ])('Port-Address %i: SubUni %i, Net %i', (portAddress, subUni, net) => {
    const { buffer } = createDmxPacket({ portAddress, slotCount: 2 });
    expect([buffer[14], buffer[15]]).toEqual([subUni, net]);
  });

  it.each([
    { portAddress: -1, slotCount: 2 },
    { portAddress: 32_768, slotCount: 2 },
    { portAddress: 0.5, slotCount: 2 },
    { portAddress: 0, slotCount: 0 },
    { portAddress: 0, slotCount: 5 },
    { portAddress: 0, slotCount: 514 },
    { portAddress: 0, slotCount: Number.NaN },
  ])('refuses %o', options => {
    expect(() => createDmxPacket(options)).toThrow(RangeError);
  });
});
