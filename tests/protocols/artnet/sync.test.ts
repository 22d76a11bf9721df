import { expect, it } from 'vitest';
import { encodeSync } from '../../../src/protocols/artnet/sync.js';

it('ArtSync is the head and two bytes of 0', () => {
  // OpCode 0x5200, little-endian; protocol version 14, big-endian (Art-Net 4).
  expect(encodeSync().toString('hex')).toBe('4172742d4e65740000520' + '00e0000');
});
