import { describe, expect, it } from 'vitest';
import { decodePsn } from '../../../src/protocols/psn/decode.js';
import { encodePsnData, encodePsnInfo } from '../../../src/protocols/psn/encode.js';

function read(bytes: Buffer, most?: number) {
  const trackers: number[] = [];
  const names: string[] = [];
  const rejected: string[] = [];
  decodePsn(
    bytes,
    {
      tracker: ({ id }) => trackers.push(id),
      systemName: name => names.push(name),
      trackerName: (_, name) => names.push(name),
      rejected: reason => rejected.push(reason),
    },
    most,
  );
  return { trackers, names, rejected };
}

const good = () =>
  encodePsnData({ timeUs: 5, number: 0 }, [
    { id: 1, position: [1, 2, 3], validity: 1, timestampUs: 4 },
    { id: 2, position: [4, 5, 6] },
  ])[0] as Buffer;

/** Head of the packet 4, header chunk 16: the list of trackers begins at 20, the first of them at 24. */
const LIST = 20;
const FIRST = 24;

describe('a data packet with one thing broken', () => {
  const broken = (change: (bytes: Buffer) => void) => {
    const bytes = good();
    change(bytes);
    return read(bytes);
  };

  it('whole, it has both trackers', () => {
    expect(read(good())).toEqual({ trackers: [1, 2], names: [], rejected: [] });
  });

  it.each<[string, (bytes: Buffer) => void, string, number[]]>([
    ['another kind of packet', bytes => bytes.writeUInt16LE(0x503c, 0), 'not-psn', []],
    ['longer than the datagram', bytes => bytes.writeUInt16LE(0xffff, 2), 'psn-structure', []],
    ['version 1', bytes => (bytes[16] = 1), 'psn-version', []],
    ['version 3', bytes => (bytes[16] = 3), 'psn-version', []],
    ['a header that is too short', bytes => bytes.writeUInt16LE(4, 6), 'psn-structure', []],
    ['no header', bytes => bytes.writeUInt16LE(9, 4), 'psn-structure', []],
    ['a list beyond the end', bytes => bytes.writeUInt16LE(0xfff0, LIST + 2), 'psn-structure', []],
    ['a tracker beyond its list', bytes => bytes.writeUInt16LE(0xf000, FIRST + 2), 'psn-structure', []],
    ['a field beyond its tracker', bytes => bytes.writeUInt16LE(60, FIRST + 6), 'psn-structure', []],
    ['a position of 8 bytes', bytes => bytes.writeUInt16LE(8, FIRST + 6), 'psn-structure', []],
    ['the second tracker beyond the list', bytes => bytes.writeUInt16LE(0x8040, FIRST + 42), 'psn-structure', [1]],
  ])('%s', (_, change, reason, trackers) => {
    expect(broken(change)).toEqual({ trackers, names: [], rejected: [reason] });
  }); // biome-ignore format: a row a case

  it.each([0, 1, 3])('%i bytes are none', length => {
    expect(read(Buffer.alloc(length)).rejected).toEqual(['not-psn']);
  });

  it('cut anywhere, it is refused, and what is whole before the cut stands', () => {
    const whole = good();
    for (let length = 4; length < whole.length; length++) {
      const { trackers, rejected } = read(whole.subarray(0, length));
      expect(rejected).toEqual(['psn-structure']);
      expect(trackers).toEqual([]); // the packet says how long it is
    }
  });

  it('beyond the limit it is not looked at', () => {
    expect(read(good(), 40)).toEqual({ trackers: [], names: [], rejected: ['too-long'] });
    expect(read(Buffer.alloc(1501)).rejected).toEqual(['too-long']);
  });
});

describe('what the standard leaves room for', () => {
  it('chunks that are not known are skipped, at every level', () => {
    const unknown = Buffer.from('990004000000803f', 'hex');
    const grown = grow(good(), [unknown], 4, 2);
    expect(read(grown)).toEqual({ trackers: [1, 2], names: [], rejected: [] });
    const field = grow(good(), [unknown], FIRST + 4, 2, LIST + 2, FIRST + 2);
    expect(read(field)).toEqual({ trackers: [1, 2], names: [], rejected: [] });
  });

  it('a packet of nothing but an unknown chunk is refused, and ends', () => {
    // The one that a decoder could walk for ever: it has no header.
    expect(read(Buffer.from('5567048007000000', 'hex')).rejected).toEqual(['psn-structure']);
  });

  it('a tracker without fields, and a frame without trackers', () => {
    expect(
      read(encodePsnData({ timeUs: 1, number: 0 }, [{ id: 7 }])[0] as Buffer).trackers,
    ).toEqual([7]);
    expect(read(encodePsnData({ timeUs: 1, number: 0 }, [])[0] as Buffer).trackers).toEqual([]);
  });

  it('names end at a NUL, and at 64 bytes', () => {
    const names = [
      { id: 1, name: 'Ines\0\0' },
      { id: 2, name: 'ö'.repeat(40) },
    ];
    const [packet] = encodePsnInfo({ timeUs: 1, number: 0 }, 'Salt', names);
    expect(read(packet as Buffer).names).toEqual(['Salt', 'Ines', 'ö'.repeat(32)]);
  });
});

/** Puts bytes in at a place, and adds their length to the chunks around it. */
function grow(bytes: Buffer, more: Buffer[], at: number, ...lengths: number[]): Buffer {
  const grown = Buffer.concat([bytes.subarray(0, at), ...more, bytes.subarray(at)]);
  const by = more.reduce((sum, one) => sum + one.length, 0);
  for (const place of lengths) grown.writeUInt16LE(grown.readUInt16LE(place) + by, place);
  return grown;
}
