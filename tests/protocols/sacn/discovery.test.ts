import { describe, expect, it } from 'vitest';
import { decodeSacn } from '../../../src/protocols/sacn/decode.js';
import { encodeDiscovery } from '../../../src/protocols/sacn/discovery.js';

const source = { cid: new Uint8Array(16).fill(7), sourceName: 'Salt' };
const range = (count: number) => Array.from({ length: count }, (_, i) => i + 1);

describe('universe discovery', () => {
  it('sorts, and names each universe once', () => {
    const pages = encodeDiscovery(source, [300, 7, 1, 7, 63_999]);
    expect(pages.map(page => decodeSacn(page))).toMatchObject([
      {
        kind: 'discovery',
        sourceName: 'Salt',
        page: 0,
        lastPage: 0,
        universes: [1, 7, 300, 63_999],
      },
    ]);
  });

  it.each([
    [0, [0]],
    [1, [1]],
    [512, [512]],
    [513, [512, 1]],
    [1025, [512, 512, 1]],
  ])('%i universes make pages of %o', (count, sizes) => {
    const packets = encodeDiscovery(source, range(count)).map(page => decodeSacn(page));
    expect(packets).toMatchObject(
      sizes.map((_, page) => ({ kind: 'discovery', page, lastPage: sizes.length - 1 })),
    );
    const lists = packets.map(packet => (packet.kind === 'discovery' ? packet.universes : []));
    expect(lists.map(list => list.length)).toEqual(sizes);
    expect(lists.flat()).toEqual(range(count));
  });

  it.each([0, 64_000, 1.5])('refuses universe %d', universe => {
    expect(() => encodeDiscovery(source, [universe])).toThrow(RangeError);
  });
});
