import { describe, expect, it } from 'vitest';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { bundle, collect, int32, message } from './collect.js';

describe('encodePacket', () => {
  it('writes nested bundles element by element', () => {
    const ping = { address: '/ping', args: [{ type: 'i', value: 7 }] } as const;
    const bytes = encodePacket({
      timeTag: 1,
      elements: [ping, { timeTag: 1.5, elements: [ping] }],
    });
    const one = message('/ping', 'i', int32(7));
    expect(bytes).toEqual(bundle([one, bundle([one], '83aa7e8180000000')], '83aa7e8100000000'));
  });

  it('writes 64-bit integers, time tags, colours and characters', () => {
    const args = [
      { type: 'h', value: { high: 1, low: 2 } },
      { type: 't', value: { raw: [0x83aa7e80, 0x80000000] } },
      { type: 'r', value: { r: 1, g: 2, b: 3, a: 1 } },
      { type: 'c', value: 'A' },
    ] as const;
    const bytes = encodePacket({ address: '/a', args });
    expect(bytes.subarray(12).toString('hex')).toBe(
      '000000010000000283aa7e8080000000010203ff00000041',
    );
    expect(collect(bytes)).toMatchObject([{ address: '/a', args }]);
  });

  it('refuses an address without its slash', () => {
    expect(() => encodePacket({ address: 'a', args: [] })).toThrow();
  });
});
