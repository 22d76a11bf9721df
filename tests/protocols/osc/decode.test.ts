import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  DEFAULT_OSC_LIMITS,
  decodeDatagram,
  MAX_DATAGRAM_BYTES,
  OSC_REJECT_REASONS,
} from '../../../src/protocols/osc/decode.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import {
  OSC_LIBRARY_OPTIONS,
  type OscArgument,
  oscLibrary,
} from '../../../src/protocols/osc/library.js';
import { bundle, collect, int32, message, oscString } from './collect.js';

const SEED = 20260401;
const ping = message('/ping', 'i', int32(7));
const pinged = { address: '/ping', args: [{ type: 'i', value: 7 }], timeTag: 'immediately' };

it('numbers are what the library reads them as', () => {
  const number = fc.oneof(
    fc.record({ type: fc.constant('f' as const), value: fc.float() }),
    fc.record({ type: fc.constant('d' as const), value: fc.double() }),
    fc.record({ type: fc.constant('i' as const), value: fc.integer() }),
  );
  const name = fc.string({ unit: 'grapheme' }).map(text => `/${text.replaceAll('\0', '')}`);
  fc.assert(
    fc.property(name, fc.array(number, { maxLength: 20 }), (address, args) => {
      const bytes = Buffer.from(encodePacket({ address, args }));
      const read = oscLibrary().readMessage(bytes, OSC_LIBRARY_OPTIONS, { idx: 0 });
      expect(collect(bytes)).toEqual([{ ...read, timeTag: 'immediately' }]);
    }),
    { seed: SEED },
  );
});

describe('guards', () => {
  it('takes a datagram up to the limit, and none above it', () => {
    const limits = { ...DEFAULT_OSC_LIMITS, maxDatagramBytes: ping.length };
    expect(collect(ping, limits)).toEqual([pinged]);
    expect(collect(Buffer.concat([ping, int32(0)]), limits)).toEqual([{ rejected: 'too-long' }]);
  });

  it('holds the hard limit whatever the options say', () => {
    const limits = { ...DEFAULT_OSC_LIMITS, maxDatagramBytes: 65_536 };
    const long = (size: number) => message('/b', 'b', int32(size), Buffer.alloc(size));
    const head = long(0).length;
    expect(collect(long(MAX_DATAGRAM_BYTES - head), limits)).toHaveLength(1);
    expect(collect(long(MAX_DATAGRAM_BYTES - head), limits)[0]).toHaveProperty('address', '/b');
    expect(collect(long(MAX_DATAGRAM_BYTES - head + 4), limits)).toEqual([
      { rejected: 'too-long' },
    ]);
  });

  it.each([
    ['not-multiple-of-4', Buffer.concat([ping, Buffer.alloc(1)])],
    ['not-osc', Buffer.alloc(0)],
    ['not-osc', oscString('ping')],
    ['not-osc', Buffer.concat([oscString('#foo'), Buffer.alloc(8)])],
    ['not-osc', Buffer.concat([oscString('#bundles'), Buffer.alloc(8)])],
    ['not-osc', Buffer.from('#bun', 'latin1')],
    ['bundle-structure', oscString('#bundle')],
    ['message-malformed', Buffer.from('/pin', 'latin1')],
    ['message-malformed', Buffer.concat([oscString('/a'), Buffer.from(',iii', 'latin1')])],
    ['message-malformed', message('/a', 'i')],
    ['message-malformed', message('/a', 'd', int32(0))],
    ['message-malformed', message('/a', 's', Buffer.from('open', 'latin1'))],
    ['message-malformed', message('/a', 's')],
    ['message-malformed', message('/a', 'b')],
    ['message-malformed', message('/a', 'b', int32(-1))],
    ['message-malformed', message('/a', 'b', int32(5), int32(0))],
    ['message-malformed', message('/a', 'b', int32(0x7fffffff), int32(0))],
    // Rounded up to four bytes that size is below 0, and what comes next would be read before the packet.
    ['message-malformed', message('/a', 'bb', int32(0x7fffffff), int32(0))],
    ['message-malformed', message('/a', 'bs', int32(0x7ffffffd), oscString('x'))],
    ['message-malformed', message('/a', 'bi', int32(8), int32(0))],
    ['message-malformed', message('/a', 'i', int32(1), int32(2))],
    ['message-malformed', message('/a', '[i', int32(1))],
    ['message-malformed', message('/a', 'i]', int32(1))],
    ['nested-array', message('/a', '[[i]]', int32(1))],
    ['unknown-type-tag', message('/a', 'iQ', int32(1))],
    ['unknown-type-tag', message('/a', ',i', int32(1))],
    ['too-many-brackets', message('/a', '[]'.repeat(17))],
  ])('%s: %o', (reason, bytes) => {
    expect(collect(bytes)).toEqual([{ rejected: reason }]);
  });

  it('lets 16 arrays pass, and any number of 0x5b bytes in the values', () => {
    expect(collect(message('/a', '[]'.repeat(16)))[0]).toHaveProperty('args.length', 16);
    const full = message('/a', 'iiiiiiii', Buffer.alloc(32, 0x5b));
    expect(collect(full)[0]).toHaveProperty('args.length', 8);
  });

  it('takes linear time over a full datagram of arrays, in messages that all pass the cap', () => {
    // The library alone takes 10 to 70 ms over 8 KB of `[]` in one message; here each message has 16.
    const one = message('/a', '[]'.repeat(16));
    const count = Math.floor((MAX_DATAGRAM_BYTES - 16) / (one.length + 4));
    const seen = collect(bundle(Array.from({ length: count }, () => one)), {
      ...DEFAULT_OSC_LIMITS,
      maxDatagramBytes: MAX_DATAGRAM_BYTES,
    });
    expect(seen).toHaveLength(count);
  });
});

describe('messages', () => {
  it('tolerates a missing type tag string (OSC 1.0), without arguments', () => {
    expect(collect(oscString('/go'))).toEqual([
      { address: '/go', args: [], timeTag: 'immediately' },
    ]);
    expect(collect(Buffer.concat([oscString('/go'), int32(5)]))).toEqual([
      { address: '/go', args: [], timeTag: 'immediately' },
    ]);
  });

  it('tolerates padding that is not zero', () => {
    const bytes = message('/go', 'i', int32(7));
    bytes[bytes.indexOf(',') + 3] = 0xff;
    expect(collect(bytes)[0]).toHaveProperty('address', '/go');
  });

  it('hands out blobs of their own, at any place in a larger buffer', () => {
    // The library ignores byteOffset and would return other memory.
    const bytes = message(
      '/b',
      'bm',
      int32(3),
      Buffer.from([1, 2, 3, 0]),
      Buffer.from([9, 8, 7, 6]),
    );
    const slab = Buffer.concat([Buffer.alloc(32, 0xee), bytes, Buffer.alloc(32, 0xee)]);
    const inner = slab.subarray(32, 32 + bytes.length);
    const seen = collect(inner);
    slab.fill(0xdd);
    expect(seen).toEqual([
      {
        address: '/b',
        args: [
          { type: 'b', value: new Uint8Array([1, 2, 3]) },
          { type: 'm', value: new Uint8Array([9, 8, 7, 6]) },
        ],
        timeTag: 'immediately',
      },
    ]);
  });

  it('hands out the blob of a message that is not first in its bundle', () => {
    const blob = message('/b', 'b', int32(2), Buffer.from([5, 6, 0, 0]));
    expect(collect(bundle([ping, blob]))[1]).toHaveProperty('args', [
      { type: 'b', value: new Uint8Array([5, 6]) },
    ]);
  });
});

describe('bundles', () => {
  const half = '83aa7e8180000000'; // Unix 1.5
  const one = '83aa7e8100000000'; // Unix 1

  it('delivers in order, with the tag of the enclosing bundle', () => {
    const pong = message('/pong', '');
    expect(collect(bundle([ping, bundle([pong], half), ping], one))).toEqual([
      { ...pinged, timeTag: 1 },
      { address: '/pong', args: [], timeTag: 1.5 },
      { ...pinged, timeTag: 1 },
    ]);
  });

  it('takes an empty bundle for what it is', () => {
    expect(collect(bundle([]))).toEqual([]);
  });

  it.each([
    ['message-malformed', message('/a', 'i')],
    ['unknown-type-tag', message('/a', 'Q')],
    ['not-osc', oscString('ping')],
    ['bundle-structure', oscString('#bundle')],
  ])('one bad element (%s) does not lose its neighbours', (reason, bad) => {
    expect(collect(bundle([ping, bad, ping]))).toEqual([pinged, { rejected: reason }, pinged]);
  });

  it.each([
    ['zero', 0],
    ['negative', -4],
    ['not a multiple of 4', 6],
    ['past the end', ping.length + 4],
    ['far past the end', 0x7ffffffc],
  ])('an element size that is %s ends the bundle after what was framed', (_, size) => {
    const bytes = Buffer.concat([bundle([ping]), int32(size), ping]);
    expect(collect(bytes)).toEqual([pinged, { rejected: 'bundle-structure' }]);
  });

  it('a broken inner bundle does not lose what follows it', () => {
    const broken = Buffer.concat([bundle([ping]), int32(6)]);
    expect(collect(bundle([broken, ping]))).toEqual([
      pinged,
      { rejected: 'bundle-structure' },
      pinged,
    ]);
  });

  it('rejects an inner bundle that is timed before the outer (OSC 1.0)', () => {
    const late = { ...pinged, timeTag: 1.5 };
    expect(collect(bundle([bundle([ping], one), ping], half))).toEqual([
      { rejected: 'time-tag-order' },
      late,
    ]);
    expect(collect(bundle([bundle([ping], half)], half))).toEqual([late]);
    expect(collect(bundle([bundle([ping])], half))).toEqual([{ rejected: 'time-tag-order' }]);
    expect(collect(bundle([bundle([ping], half)]))).toEqual([late]);
  });

  it('reads 8 bundles deep and not deeper', () => {
    const nest = (depth: number) => {
      let bytes: Buffer = ping;
      for (let i = 0; i < depth; i++) bytes = bundle([bytes]);
      return bytes;
    };
    expect(collect(nest(8))).toEqual([pinged]);
    expect(collect(nest(9))).toEqual([{ rejected: 'bundle-too-deep' }]);
    expect(collect(nest(400), { maxDatagramBytes: MAX_DATAGRAM_BYTES, maxBundleDepth: 8 })).toEqual(
      [{ rejected: 'bundle-too-deep' }],
    );
  });
});

describe('properties', () => {
  const reasons: ReadonlySet<string> = new Set(OSC_REJECT_REASONS);
  const declared = (bytes: Uint8Array) => {
    for (const item of collect(bytes)) {
      if ('rejected' in item) expect(reasons).toContain(item.rejected);
      else expect(item.address.startsWith('/')).toBe(true);
    }
  };
  const element = fc.oneof(
    fc.uint8Array({ maxLength: 24 }).map(bytes => Buffer.from(bytes)),
    fc
      .tuple(
        fc.stringMatching(/^\/[a-z/]{0,6}$/),
        fc.stringMatching(/^[ifsbhtdTFNIScrm[\]Q]{0,6}$/),
      )
      .chain(([address, tags]) =>
        fc
          .uint8Array({ maxLength: 32 })
          .map(values => message(address, tags, values.subarray(0, values.length & ~3))),
      ),
  );

  it('any bytes: never throws, and every result is declared', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 64 }), declared), { seed: SEED });
  });

  it('near-messages and near-bundles: never throws, and every result is declared', () => {
    fc.assert(
      fc.property(
        fc.array(element, { maxLength: 4 }),
        fc.array(fc.tuple(fc.nat(), fc.nat(255)), { maxLength: 3 }),
        (elements, flips) => {
          const bytes = bundle([...elements, bundle(elements)]);
          for (const [at, value] of flips) bytes[at % bytes.length] = value;
          declared(bytes);
          for (const single of elements) declared(single);
        },
      ),
      { seed: SEED, numRuns: 400 },
    );
  });

  const text = fc.stringMatching(/^[ -~]{0,12}$/);
  const argument: fc.Arbitrary<OscArgument> = fc.oneof(
    fc.record({ type: fc.constant('i' as const), value: fc.integer() }),
    fc.record({
      type: fc.constant('f' as const),
      value: fc.float({ noNaN: true }),
    }),
    fc.record({ type: fc.constant('d' as const), value: fc.double({ noNaN: true }) }),
    fc.record({ type: fc.constantFrom('s' as const, 'S' as const), value: text }),
    fc.record({ type: fc.constant('b' as const), value: fc.uint8Array({ maxLength: 9 }) }),
    fc.record({
      type: fc.constant('m' as const),
      value: fc.uint8Array({ minLength: 4, maxLength: 4 }),
    }),
    fc.constantFrom<OscArgument>(
      { type: 'T', value: true },
      { type: 'F', value: false },
      { type: 'N', value: null },
      { type: 'I', value: 1 },
    ),
  );

  it('round trip: what the encoder writes, the decoder reads', () => {
    const messages = fc.array(
      fc.record({
        address: fc.stringMatching(/^\/[a-z0-9/]{0,12}$/),
        args: fc.array(fc.oneof(argument, fc.array(argument, { maxLength: 3 })), { maxLength: 6 }),
      }),
      { maxLength: 5 },
    );
    fc.assert(
      fc.property(messages, fc.integer({ min: 0, max: 2 ** 31 }), (elements, seconds) => {
        const bytes = encodePacket({ timeTag: seconds + 0.25, elements });
        expect(collect(bytes)).toEqual(
          elements.map(({ address, args }) => ({ address, args, timeTag: seconds + 0.25 })),
        );
      }),
      { seed: SEED },
    );
  });

  it('lets what the visitor throws pass through', () => {
    const visitor = {
      message: () => {
        throw new Error('from the visitor');
      },
      rejected: () => undefined,
    };
    expect(() => decodeDatagram(ping, DEFAULT_OSC_LIMITS, visitor)).toThrow('from the visitor');
  });
});
