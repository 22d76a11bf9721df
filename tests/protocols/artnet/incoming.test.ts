import { describe, expect, it } from 'vitest';
import { decodeArtDmx, isPoll } from '../../../src/protocols/artnet/incoming.js';

/** Of Debian's OLA, common/... ArtNetNodeTest: Net 4, Sub-Net 2, Universe 3, six slots. */
const GOLDEN = Buffer.from('4172742d4e6574000050000e000123040006000102030405', 'hex');

function broken(at: number, ...bytes: readonly number[]): Buffer {
  const copy = Buffer.from(GOLDEN);
  copy.set(bytes, at);
  return copy;
}

describe('ArtDmx', () => {
  it('is read as OLA writes it', () => {
    const dmx = decodeArtDmx(GOLDEN);
    expect(dmx?.portAddress).toBe(0x0423);
    expect([...(dmx?.slots ?? [])]).toEqual([0, 1, 2, 3, 4, 5]);
  });

  it.each([
    ['another identifier', broken(0, 0x42)],
    ['another opcode', broken(8, 0x00, 0x52)],
    ['a Port-Address of more than 15 bits', broken(15, 0x80)],
    ['no slots', broken(16, 0, 0)],
    ['more than 512 slots', broken(16, 2, 2)],
    ['fewer slots than it says', broken(16, 0, 8)],
    ['half a head', GOLDEN.subarray(0, 9)],
    ['nothing', Buffer.alloc(0)],
  ])('is none with %s', (_, bytes) => {
    expect(decodeArtDmx(bytes)).toBeUndefined();
  });
});

it('a poll is one of Art-Net 4 (14 bytes) as of older controllers', () => {
  const poll = Buffer.from('4172742d4e6574000020000e0200', 'hex');
  expect(isPoll(poll)).toBe(true);
  expect(isPoll(poll.subarray(0, 12))).toBe(true);
  expect(isPoll(poll.subarray(0, 8))).toBe(false);
  expect(isPoll(GOLDEN)).toBe(false);
});
