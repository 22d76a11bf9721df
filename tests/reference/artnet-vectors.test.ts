import { describe, expect, it } from 'vitest';
import { createDmxPacket } from '../../src/protocols/artnet/dmx-packet.js';
import { encodePoll } from '../../src/protocols/artnet/poll.js';

/**
 * Source: the Art-Net 4 specification's packet definitions ("Art-Net" is a trademark and copyright of
 * Artistic Licence Holdings Ltd); the vectors are rebuilt from its field tables, and agree with those
 * of the independent implementations that we compared them with.
 */
describe('Art-Net 4', () => {
  it('ArtDmx: Net 4, Sub-Net 2, Universe 3, six slots', () => {
    const packet = createDmxPacket({ portAddress: 0x0423, slotCount: 6 });
    packet.slots.set([0, 1, 2, 3, 4, 5]);
    expect(packet.buffer.toString('hex')).toBe(
      '4172742d4e657400' + '0050' + '000e' + '00' + '00' + '2304' + '0006' + '000102030405',
    );
    packet.advanceSequence();
    expect(packet.buffer[12]).toBe(1);
  });

  it('ArtPoll: replies on change, no diagnostics', () => {
    expect(encodePoll().toString('hex')).toBe('4172742d4e657400' + '0020' + '000e' + '02' + '00');
  });
});
