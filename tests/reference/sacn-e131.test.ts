import { describe, expect, it } from 'vitest';
import { createDataPacket } from '../../src/protocols/sacn/data-packet.js';
import { decodeSacn } from '../../src/protocols/sacn/decode.js';
import { encodeDiscovery } from '../../src/protocols/sacn/discovery.js';
import { DATA } from '../../src/protocols/sacn/layout.js';
import { multicastGroup } from '../../src/protocols/sacn/multicast.js';
import { acceptsSequence } from '../../src/protocols/sacn/sequence.js';

/** Source of all values but where noted: ANSI E1.31-2018. */

/** Appendix B: one CID and source name in all three examples. */
const CID = 'ef07c8dd00644401a3a2459ef8e6143e';
const NAME = Buffer.alloc(64);
NAME.write('Source_A', 'latin1');
/** Tables 4-1 to 4-3: preamble and postamble size, ACN packet identifier. */
const PREFIX = '001000004153432d45312e3137000000';

const hex = (...parts: string[]) => Buffer.from(parts.join(''), 'hex');

describe('Appendix B', () => {
  it('data packet: root 726e, framing 7258, DMP 720b; sync address 7962, sequence 154', () => {
    const golden = Buffer.concat([
      hex(PREFIX, '726e', '00000004', CID, '7258', '00000002', NAME.toString('hex')),
      hex('64', '1f1a', '9a', '00', '0001'),
      hex('720b', '02', 'a1', '0000', '0001', '0201', '00'),
      Buffer.alloc(512),
    ]);
    expect(golden).toHaveLength(638);
    expect(decodeSacn(golden)).toMatchObject({
      kind: 'data',
      sourceName: 'Source_A',
      priority: 100,
      syncAddress: 7962,
      sequence: 154,
      universe: 1,
      startCode: 0,
    });
    const packet = createDataPacket({
      cid: Buffer.from(CID, 'hex'),
      sourceName: 'Source_A',
      priority: 100,
      universe: 1,
    });
    packet.setSequence(0x9a);
    // We never synchronise, so the encoder's own sync address is 0.
    packet.buffer.writeUInt16BE(7962, DATA.syncAddress);
    expect(packet.buffer).toEqual(golden);
  });

  it('sync packet: 49 bytes, root 7021, framing 700b (5.4 and 6.1 say otherwise: an erratum)', () => {
    const golden = hex(PREFIX, '7021', '00000008', CID, '700b', '00000001', '6f', '1f1a', '0000');
    expect(golden).toHaveLength(49);
    // Table B-14 prints sequence 367 for an 8-bit field; 367 mod 256 = 0x6f.
    expect(decodeSacn(golden)).toMatchObject({ kind: 'sync', sequence: 0x6f, syncAddress: 7962 });
  });

  // Lengths computed from section 5.4 and Table 8-9.
  it.each([
    [0, '7068', '7052', '7008', 120],
    [1, '706a', '7054', '700a', 122],
    [512, '7468', '7452', '7408', 1144],
  ])('discovery of %i universes: %s %s %s, %i bytes', (count, root, framing, list, length) => {
    const universes = Array.from({ length: count }, (_, i) => i + 1);
    const source = { cid: Buffer.from(CID, 'hex'), sourceName: 'Source_A' };
    const golden = Buffer.concat([
      hex(PREFIX, root, '00000008', CID, framing, '00000002', NAME.toString('hex'), '00000000'),
      hex(list, '00000001', '00', '00', ...universes.map(u => u.toString(16).padStart(4, '0'))),
    ]);
    expect(golden).toHaveLength(length);
    expect(encodeDiscovery(source, universes)).toEqual([golden]);
    expect(decodeSacn(golden)).toMatchObject({
      kind: 'discovery',
      sourceName: 'Source_A',
      universes,
    });
  });
});

// Flags and length = 0x7000 | (UDP length - 16, - 38, - 115), computed from section 5.4.
describe('data packets of other slot counts', () => {
  it.each([
    [1, '706f', '7059', '700c', 127],
    [6, '7074', '705e', '7011', 132],
    [24, '7086', '7070', '7023', 150],
  ])('%i slots: %s %s %s, %i bytes', (slots, root, framing, dmp, length) => {
    const bytes = Buffer.concat([
      hex(PREFIX, root, '00000004', CID, framing, '00000002', NAME.toString('hex')),
      hex('64', '0000', '00', '00', '0001', dmp, '02', 'a1', '0000', '0001'),
      hex((slots + 1).toString(16).padStart(4, '0'), '00'),
      Buffer.alloc(slots, 0xff),
    ]);
    expect(bytes).toHaveLength(length);
    expect(decodeSacn(bytes)).toMatchObject({ kind: 'data', slots: Buffer.alloc(slots, 0xff) });
  });
});

describe('Table 9-10: IPv4 multicast groups', () => {
  it.each([
    [1, '239.255.0.1'],
    [255, '239.255.0.255'],
    [256, '239.255.1.0'],
    [7962, '239.255.31.26'],
    [63_999, '239.255.249.255'],
    [64_214, '239.255.250.214'],
  ])('universe %i: %s', (universe, group) => {
    expect(multicastGroup(universe)).toBe(group);
  });

  it.each([0, 64_000, 64_213, 64_215, 65_535, -1, 1.5])('no group for %d', universe => {
    expect(() => multicastGroup(universe)).toThrow(RangeError);
  });
});

// Worked from the rule of section 6.7.2: discard when -20 < int8(next - last) <= 0.
describe('6.7.2: sequence numbers', () => {
  it.each([
    [10, 10, false],
    [10, 9, false],
    [20, 1, false],
    [20, 0, true],
    [255, 0, true],
    [0, 236, true],
    [0, 237, false],
    [0, 128, true],
    [200, 100, true],
  ])('after %i, %i: %s', (last, next, accepted) => {
    expect(acceptsSequence(last, next)).toBe(accepted);
  });
});
