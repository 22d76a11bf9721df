import { expect, it } from 'vitest';
import { decodeSacn } from '../../../src/protocols/sacn/decode.js';
import { createSyncPacket } from '../../../src/protocols/sacn/sync-packet.js';

it('is the packet of the standard, byte for byte', () => {
  // E1.31-2018: CID and universe of Appendix B, lengths of Table B-14 (root 0x21, framing 0xb bytes).
  const cid = Buffer.from('ef07c8dd00644401a3a2459ef8e6143e', 'hex');
  const packet = createSyncPacket(cid, 7962);
  packet.advanceSequence();
  expect(packet.buffer.toString('hex')).toBe(
    [
      '00100000',
      '4153432d45312e3137000000',
      '7021',
      '00000008',
      'ef07c8dd00644401a3a2459ef8e6143e',
      '700b',
      '00000001',
      '01',
      '1f1a',
      '0000',
    ].join(''),
  );
  expect(decodeSacn(packet.buffer)).toMatchObject({ kind: 'sync', syncAddress: 7962, sequence: 1 });
});

it.each([0, 64_000, 1.5])('refuses universe %d', universe => {
  expect(() => createSyncPacket(new Uint8Array(16), universe)).toThrow(RangeError);
});
