import { crc32 } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  applyChanges,
  type PartEnd,
  type RecordedItem,
  readPart,
} from '../../src/recording/decode.js';
import {
  encodeFrame,
  encodeIntake,
  encodeJson,
  frameBytesAtMost,
  intakeBytes,
} from '../../src/recording/encode.js';
import { HEAD, HEAD_BYTES, MAGIC } from '../../src/recording/layout.js';
import type { SlotRuns } from '../../src/show/model/patched-slots.js';

function read(bytes: Buffer): { items: RecordedItem[]; end: PartEnd } {
  const items: RecordedItem[] = [];
  const records = readPart(bytes);
  let next = records.next();
  while (next.done !== true) {
    items.push(next.value);
    next = records.next();
  }
  return { items, end: next.value };
}

const part = (...records: Buffer[]) => Buffer.concat([MAGIC, ...records]);

function intake(
  ...args: Parameters<typeof encodeIntake> extends [Buffer, number, ...infer R] ? R : never
) {
  const out = Buffer.alloc(intakeBytes(args[4]));
  expect(encodeIntake(out, 0, ...args)).toBe(out.length);
  return out;
}

const anyBytes = fc.uint8Array({ maxLength: 80 }).map(bytes => Buffer.from(bytes));
const anyDatagrams = fc.array(
  fc.record({
    input: fc.nat(65535),
    arrivalS: fc.double({ noNaN: true }),
    bytes: anyBytes,
  }),
  { maxLength: 6 },
);

describe('a part', () => {
  it('gives back the inputs of ticks to the last bit', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('tick' as const, 'absorb' as const),
        fc.nat(0xffffffff),
        fc.double({ noNaN: true }),
        fc.double({ noNaN: true }),
        anyDatagrams,
        (type, tick, nowS, unixOffsetS, datagrams) => {
          const { items, end } = read(part(intake(type, tick, nowS, unixOffsetS, datagrams)));
          expect(items).toEqual([{ type, tick, nowS, unixOffsetS, datagrams }]);
          expect(end.fault).toBeUndefined();
        },
      ),
      { seed: 2 },
    );
  });

  it('gives back the levels of frames, one after the other', () => {
    const runs: SlotRuns = {
      starts: Int32Array.of(0, 200, 600),
      lengths: Int32Array.of(3, 150, 424),
      count: 577,
    };
    const anyLevels = fc.array(fc.array(fc.tuple(fc.nat(576), fc.nat(255)), { maxLength: 40 }), {
      minLength: 1,
      maxLength: 8,
    });
    const slots = [...runs.starts].flatMap((start, run) =>
      Array.from({ length: runs.lengths[run] as number }, (_, i) => start + i),
    );
    fc.assert(
      fc.property(anyLevels, frames => {
        const levels = new Uint8Array(1024);
        const last = new Uint8Array(1024);
        const replayed = new Uint8Array(1024);
        frames.forEach((changes, tick) => {
          for (const [slot, level] of changes) levels[slots[slot] as number] = level;
          const out = Buffer.alloc(frameBytesAtMost(runs));
          const end = encodeFrame(out, 0, tick, tick / 40, runs, levels, last);
          const [frame] = read(part(out.subarray(0, end))).items;
          if (frame?.type !== 'frame') throw new Error('no frame');
          expect(frame).toMatchObject({ tick, sentS: tick / 40 });
          expect(applyChanges(frame.changes, replayed)).toBe(true);
          expect([Buffer.compare(replayed, levels), Buffer.compare(last, levels)]).toEqual([0, 0]);
        });
      }),
      { seed: 3 },
    );
  });

  it('needs no more room for a frame than it says, when every other slot changes', () => {
    const runs = { starts: Int32Array.of(0), lengths: Int32Array.of(512), count: 512 };
    const levels = Uint8Array.from({ length: 512 }, (_, i) => i % 2);
    const out = Buffer.alloc(frameBytesAtMost(runs));
    const end = encodeFrame(out, 0, 0, 0, runs, levels, new Uint8Array(512));
    expect(end).toBeLessThanOrEqual(out.length);
  });

  const whole = [
    encodeJson('events', { tick: 0, events: [{ kind: 'feed', silent: true }] }),
    intake('tick', 1, 2, 3, [{ input: 0, arrivalS: 1.5, bytes: Buffer.from('salt') }]),
    encodeJson('end', { tick: 2 }),
  ];

  it('that is cut off anywhere is read to its last whole record', () => {
    const bytes = part(...whole);
    const ends = [MAGIC.length];
    for (const record of whole) ends.push((ends.at(-1) ?? 0) + record.length);
    for (let length = MAGIC.length; length <= bytes.length; length++) {
      const { items, end } = read(bytes.subarray(0, length));
      const wholeOnes = ends.filter(one => one <= length).length - 1;
      expect(items).toHaveLength(wholeOnes);
      expect(end.readBytes).toBe(ends[wholeOnes]);
      expect(end.fault === undefined).toBe(length === ends[wholeOnes]);
    }
  });

  it('that is damaged in any byte is read but for the record that holds it', () => {
    const bytes = part(...whole);
    let at = MAGIC.length;
    whole.forEach((record, index) => {
      for (let i = at; i < at + record.length; i++) {
        const damaged = Buffer.from(bytes);
        damaged[i] = (damaged[i] ?? 0) ^ 0x10;
        const { items, end } = read(damaged);
        const others = read(part(...whole.filter((_, other) => other !== index))).items;
        expect(items.filter(({ type }) => type !== 'gap')).toEqual(others);
        expect(items.some(({ type }) => type === 'gap')).toBe(index < whole.length - 1);
        expect(end.fault).toMatch(
          index === 0 ? /the first record, which says what was recorded/ : /damaged|cut off/,
        );
        expect(end.readBytes).toBe(bytes.length - record.length);
      }
      at += record.length;
    });
  });

  it('is refused where its first bytes are others, and where it is of a later version', () => {
    expect(read(Buffer.from('t_s,x,y,z\n')).end).toMatchObject({
      readBytes: 0,
      fault: expect.stringMatching(/not a recording/),
    });
    const later = part(...whole);
    later[MAGIC.length - 1] = 2;
    expect(read(later).end).toMatchObject({
      readBytes: 0,
      fault: expect.stringMatching(/version 2/),
    });
    expect(read(Buffer.alloc(0)).end.fault).toMatch(/not a recording/);
  });

  it('may hold types of a later release, which are passed over', () => {
    const record = Buffer.from(encodeJson('end', {}));
    record[HEAD.type] = 200;
    record.writeUInt32LE(crc32(record.subarray(4)), HEAD.crc);
    expect(read(part(record, ...whole)).items).toHaveLength(whole.length);
  });

  it('with a right checksum round nonsense is read up to there', () => {
    const sealed = (type: number, payload: Buffer) => {
      const record = Buffer.concat([Buffer.alloc(HEAD_BYTES), payload]);
      record.writeUInt32LE(payload.length, HEAD.length);
      record[HEAD.type] = type;
      record.writeUInt32LE(crc32(record.subarray(4)), HEAD.crc);
      return record;
    };
    for (const nonsense of [
      sealed(1, Buffer.from('{not json')),
      sealed(5, Buffer.from('null')),
      sealed(3, Buffer.alloc(5)),
      sealed(4, Buffer.alloc(5)),
      // A datagram longer than its record.
      sealed(
        3,
        Buffer.concat([Buffer.alloc(20), Buffer.alloc(10), Buffer.of(0xff, 0xff), Buffer.alloc(9)]),
      ),
    ]) {
      expect(read(part(...whole, nonsense)).items).toHaveLength(whole.length);
      expect(read(part(...whole, nonsense)).end.fault).toMatch(/not of this format/);
    }
  });

  it('of any bytes at all throws nothing', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), bytes => {
        read(part(Buffer.from(bytes)));
        applyChanges(bytes, new Uint8Array(512));
      }),
      { seed: 4, numRuns: 500 },
    );
  });
});
