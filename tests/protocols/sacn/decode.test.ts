import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { decodeSacn, SACN_REJECT_REASONS } from '../../../src/protocols/sacn/decode.js';
import { encodeDiscovery } from '../../../src/protocols/sacn/discovery.js';
import { DATA, DISCOVERY, FRAMING, ROOT, SYNC } from '../../../src/protocols/sacn/layout.js';

const cid = Uint8Array.from({ length: 16 }, (_, i) => 0xa0 + i);
const source = { cid, sourceName: 'Salt' };
const goodData = () => createDataPacket({ ...source, universe: 7, priority: 120 }).buffer;
const goodDiscovery = () => Buffer.from(encodeDiscovery(source, [1, 7, 300])[0] ?? []);
/** 49 bytes by Table 4-2; lengths 33 and 11 by Appendix B. */
const goodSync = () => {
  const bytes = Buffer.alloc(49);
  goodData().copy(bytes, 0, 0, 38);
  bytes.writeUInt16BE(0x7021, ROOT.flagsAndLength);
  bytes.writeUInt32BE(8, ROOT.vector);
  bytes.writeUInt16BE(0x700b, FRAMING.flagsAndLength);
  bytes.writeUInt32BE(1, FRAMING.vector);
  bytes[SYNC.sequence] = 9;
  bytes.writeUInt16BE(7962, SYNC.syncAddress);
  return bytes;
};

type Break = (bytes: Buffer) => unknown;
const common: [string, string, Break][] = [
  ['preamble-size', 'preamble', b => b.writeUInt16BE(0x11, ROOT.preambleSize)],
  ['postamble-size', 'postamble', b => b.writeUInt16BE(1, ROOT.postambleSize)],
  ['acn-identifier', 'first byte of the identifier', b => b.fill(0, 4, 5)],
  ['acn-identifier', 'last byte of the identifier', b => b.fill(1, 15, 16)],
  ['root-length', 'flags', b => b.fill(0x62, ROOT.flagsAndLength, ROOT.flagsAndLength + 1)],
  ['root-length', 'length', b => b.writeUInt8((b[17] ?? 0) ^ 1, 17)],
  ['root-vector', 'root vector', b => b.writeUInt32BE(5, ROOT.vector)],
  ['framing-vector', 'framing vector', b => b.writeUInt32BE(3, FRAMING.vector)],
  [
    'framing-length',
    'flags',
    b => b.fill(0x62, FRAMING.flagsAndLength, FRAMING.flagsAndLength + 1),
  ],
  ['framing-length', 'length', b => b.writeUInt8((b[39] ?? 0) ^ 1, 39)],
];

describe.each([
  ['data', goodData],
  ['sync', goodSync],
  ['discovery', goodDiscovery],
] as const)('one field of a good %s packet broken', (kind, make) => {
  it('the good one is good', () => {
    expect(decodeSacn(make())).toMatchObject({ kind });
  });

  it.each(common)('%s: %s', (reason, _, breakIt) => {
    const bytes = make();
    breakIt(bytes);
    expect(decodeSacn(bytes)).toEqual({ kind: 'rejected', reason });
  });

  it('cut anywhere, or a byte too long: rejected', () => {
    const bytes = make();
    for (let length = 0; length < bytes.length; length++) {
      expect(decodeSacn(bytes.subarray(0, length)).kind).toBe('rejected');
    }
    expect(decodeSacn(Buffer.concat([bytes, Buffer.alloc(1)]))).toEqual({
      kind: 'rejected',
      reason: 'root-length',
    });
    expect(decodeSacn(bytes.subarray(0, 43))).toEqual({ kind: 'rejected', reason: 'too-short' });
  });
});

/** A packet that says itself how long it is, though its fields would reach further. */
function cutTo(make: () => Buffer, length: number): Buffer {
  const bytes = Buffer.from(make().subarray(0, length));
  bytes.writeUInt16BE(0x7000 | (length - ROOT.flagsAndLength), ROOT.flagsAndLength);
  bytes.writeUInt16BE(0x7000 | (length - FRAMING.flagsAndLength), FRAMING.flagsAndLength);
  return bytes;
}

describe.each([
  ['data', goodData, DATA.slots],
  ['sync', goodSync, SYNC.end],
  ['discovery', goodDiscovery, DISCOVERY.universes],
] as const)('a %s packet whose lengths fit its end', (_, make, least) => {
  it('is too short below its fixed fields, and refused for something else, or not at all, from there on', () => {
    for (let length = FRAMING.vector + 4; length < least; length++) {
      expect(decodeSacn(cutTo(make, length))).toEqual({ kind: 'rejected', reason: 'too-short' });
    }
    expect(decodeSacn(cutTo(make, least))).not.toMatchObject({ reason: 'too-short' });
  });
});

describe('data packets', () => {
  it('gives every field', () => {
    const bytes = goodData();
    bytes.writeUInt16BE(300, DATA.syncAddress);
    bytes[DATA.sequence] = 200;
    bytes[DATA.startCode] = 0xdd;
    bytes[DATA.slots + 2] = 99;
    const packet = decodeSacn(bytes);
    expect(packet).toMatchObject({
      kind: 'data',
      sourceName: 'Salt',
      priority: 120,
      syncAddress: 300,
      sequence: 200,
      universe: 7,
      startCode: 0xdd,
    });
    if (packet.kind !== 'data') return;
    expect([...packet.cid]).toEqual([...cid]);
    expect(packet.slots).toHaveLength(512);
    expect(packet.slots[2]).toBe(99);
  });

  it.each([
    [0x80, { preview: true, terminated: false, forceSync: false }],
    [0x40, { preview: false, terminated: true, forceSync: false }],
    [0x20, { preview: false, terminated: false, forceSync: true }],
    [0x1f, { preview: false, terminated: false, forceSync: false }],
  ])('options %i (E1.31 6.2.6)', (options, flags) => {
    const bytes = goodData();
    bytes[DATA.options] = options;
    expect(decodeSacn(bytes)).toMatchObject(flags);
  });

  it.each<[string, string, Break]>([
    ['source-name', 'no NUL', b => b.fill(0x61, DATA.sourceName, DATA.priority)],
    ['priority-range', '201', b => b.fill(201, DATA.priority, DATA.priority + 1)],
    ['sync-address-range', '64000', b => b.writeUInt16BE(64_000, DATA.syncAddress)],
    ['universe-range', '0', b => b.writeUInt16BE(0, DATA.universe)],
    ['universe-range', '64000', b => b.writeUInt16BE(64_000, DATA.universe)],
    ['dmp-length', 'length', b => b.writeUInt16BE(0x720c, DATA.dmpFlagsAndLength)],
    ['dmp-length', 'flags', b => b.writeUInt16BE(0x020b, DATA.dmpFlagsAndLength)],
    ['dmp-vector', '1', b => b.fill(1, DATA.dmpVector, DATA.dmpVector + 1)],
    ['address-type', '0xa2', b => b.fill(0xa2, DATA.addressType, DATA.addressType + 1)],
    ['first-address', '1', b => b.writeUInt16BE(1, DATA.firstAddress)],
    ['address-increment', '2', b => b.writeUInt16BE(2, DATA.addressIncrement)],
    ['property-count', '512', b => b.writeUInt16BE(512, DATA.propertyCount)],
    ['property-count', '0', b => b.writeUInt16BE(0, DATA.propertyCount)],
  ])('%s: %s', (reason, _, breakIt) => {
    const bytes = goodData();
    breakIt(bytes);
    expect(decodeSacn(bytes)).toEqual({ kind: 'rejected', reason });
  });

  it('more than 512 slots, with all lengths right: rejected', () => {
    const bytes = Buffer.concat([goodData(), Buffer.alloc(1)]);
    for (const at of [ROOT.flagsAndLength, FRAMING.flagsAndLength, DATA.dmpFlagsAndLength]) {
      bytes.writeUInt16BE(0x7000 | (bytes.length - at), at);
    }
    bytes.writeUInt16BE(514, DATA.propertyCount);
    expect(decodeSacn(bytes)).toEqual({ kind: 'rejected', reason: 'property-count' });
  });
});

describe('sync packets', () => {
  it('gives every field', () => {
    const bytes = goodSync();
    const packet = decodeSacn(bytes);
    expect(packet).toMatchObject({ kind: 'sync', sequence: 9, syncAddress: 7962 });
  });

  it.each([0, 64_000])('never has sync address %i', syncAddress => {
    const bytes = goodSync();
    bytes.writeUInt16BE(syncAddress, SYNC.syncAddress);
    expect(decodeSacn(bytes)).toEqual({ kind: 'rejected', reason: 'sync-address-range' });
  });

  it('has no room after the reserved bytes, even with its lengths right', () => {
    const bytes = Buffer.concat([goodSync(), Buffer.alloc(2)]);
    bytes.writeUInt16BE(0x7023, ROOT.flagsAndLength);
    bytes.writeUInt16BE(0x700d, FRAMING.flagsAndLength);
    expect(decodeSacn(bytes)).toEqual({ kind: 'rejected', reason: 'root-length' });
  });
});

describe('discovery packets', () => {
  it.each<[string, string, Break]>([
    ['source-name', 'no NUL', b => b.fill(0x61, DISCOVERY.sourceName, DISCOVERY.reserved)],
    ['list-length', 'length', b => b.writeUInt16BE(0x700c, DISCOVERY.listFlagsAndLength)],
    ['list-vector', '2', b => b.writeUInt32BE(2, DISCOVERY.listVector)],
    ['page-number', 'after the last', b => b.fill(1, DISCOVERY.page, DISCOVERY.page + 1)],
    ['universe-list', '0', b => b.writeUInt16BE(0, DISCOVERY.universes)],
    ['universe-list', '64000', b => b.writeUInt16BE(64_000, DISCOVERY.universes + 4)],
    ['universe-list', 'twice the same', b => b.writeUInt16BE(1, DISCOVERY.universes + 2)],
    ['universe-list', 'falling', b => b.writeUInt16BE(400, DISCOVERY.universes + 2)],
  ])('%s: %s', (reason, _, breakIt) => {
    const bytes = goodDiscovery();
    breakIt(bytes);
    expect(decodeSacn(bytes)).toEqual({ kind: 'rejected', reason });
  });

  it('a list of half a universe or of 513: rejected', () => {
    const stretch = (bytes: Buffer) => {
      for (const at of [16, 38, DISCOVERY.listFlagsAndLength]) {
        bytes.writeUInt16BE(0x7000 | (bytes.length - at), at);
      }
      return decodeSacn(bytes);
    };
    const rejected = { kind: 'rejected', reason: 'universe-list' };
    expect(stretch(Buffer.concat([goodDiscovery(), Buffer.alloc(1, 9)]))).toEqual(rejected);
    const full = encodeDiscovery(
      source,
      Array.from({ length: 512 }, (_, i) => i + 1),
    )[0];
    expect(stretch(Buffer.concat([full ?? Buffer.alloc(0), Buffer.from([9, 0])]))).toEqual(
      rejected,
    );
  });
});

describe('any bytes', () => {
  const reasons: ReadonlySet<string> = new Set(SACN_REJECT_REASONS);
  const declared = (bytes: Uint8Array) => {
    const packet = decodeSacn(Buffer.from(bytes));
    if (packet.kind === 'rejected') expect(reasons).toContain(packet.reason);
    else expect(['data', 'sync', 'discovery']).toContain(packet.kind);
  };

  it('never throws, and every result is declared', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 700 }), declared), { seed: 41 });
  });

  it('good packets with bytes changed and ends cut: the same', () => {
    const flip = fc.tuple(fc.nat(), fc.nat(255));
    fc.assert(
      fc.property(
        fc.constantFrom(goodData, goodSync, goodDiscovery),
        fc.array(flip, { maxLength: 3 }),
        fc.option(fc.nat(700)),
        (make, flips, cut) => {
          const bytes = make();
          for (const [at, value] of flips) bytes[at % bytes.length] = value;
          declared(bytes.subarray(0, cut ?? bytes.length));
        },
      ),
      { seed: 42, numRuns: 600 },
    );
  });

  it('round trip: what we encode, we decode', () => {
    const options = fc.record({
      cid: fc.uint8Array({ minLength: 16, maxLength: 16 }),
      sourceName: fc.stringMatching(/^[ -~]{0,63}$/),
      universe: fc.integer({ min: 1, max: 63_999 }),
      priority: fc.integer({ min: 0, max: 200 }),
    });
    const levels = fc.uint8Array({ minLength: 512, maxLength: 512 });
    fc.assert(
      fc.property(options, levels, fc.nat(255), (option, slots, sequence) => {
        const packet = createDataPacket(option);
        packet.slots.set(slots);
        packet.setSequence(sequence);
        const { sourceName, universe, priority } = option;
        const decoded = decodeSacn(packet.buffer);
        expect(decoded).toMatchObject({ kind: 'data', sourceName, universe, priority, sequence });
        if (decoded.kind !== 'data') return;
        expect(Buffer.compare(decoded.slots, slots)).toBe(0);
        expect(Buffer.compare(decoded.cid, option.cid)).toBe(0);
      }),
      { seed: 43 },
    );
  });
});
