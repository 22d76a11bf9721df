import { PassThrough } from 'node:stream';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  FRAME,
  HEAD,
  HEAD_BYTES,
  MAX_PAYLOAD_BYTES,
  MESSAGE_TYPES,
} from '../../../src/daemon/pipe/layout.js';
import { PipeReader, type PipeVisitor } from '../../../src/daemon/pipe/reader.js';
import { PipeWriter } from '../../../src/daemon/pipe/writer.js';
import type { SlotRuns } from '../../../src/show/model/patched-slots.js';

const RUNS: SlotRuns = {
  starts: Int32Array.of(0, 10),
  lengths: Int32Array.of(3, 2),
  count: 5,
};
/** Two sections of the same levels. */
const SECTIONS: readonly SlotRuns[] = [
  { starts: Int32Array.of(0), lengths: Int32Array.of(3), count: 3 },
  { starts: Int32Array.of(10), lengths: Int32Array.of(2), count: 2 },
];
const LEVELS = Uint8Array.of(1, 2, 3, 0, 0, 0, 0, 0, 0, 0, 4, 5);

/** Bytes of one frame and one message of news. */
function written(): Buffer {
  const stream = new PassThrough();
  const writer = new PipeWriter(stream, [RUNS]);
  writer.section(0, LEVELS, 12.5, 12.525, 7, { stampS: 12.45, arrivalS: 12.46 });
  // What was written lies in the stream until it is read; the next frame would be skipped.
  const first = Buffer.from(stream.read() as Buffer);
  writer.json('events', [{ kind: 'feed', silent: true }]);
  return Buffer.concat([first, stream.read() as Buffer]);
}

function collector() {
  const frames: {
    sequence: number;
    tickS: number;
    deadlineS: number;
    packed: number[];
    cue: number | undefined;
    stampS: number;
    arrivalS: number;
  }[] = [];
  const news: [type: string, value: unknown][] = [];
  const visitor: PipeVisitor = {
    section: (_section, sequence, tickS, deadlineS, packed, cue, { stampS, arrivalS }) =>
      frames.push({ sequence, tickS, deadlineS, packed: [...packed], cue, stampS, arrivalS }),
    json: (type, value) => news.push([type, value]),
    snapshot: text => news.push(['snapshot', text]),
  };
  return { frames, news, reader: new PipeReader([RUNS.count], visitor) };
}

describe('what the engine writes, the supervisor reads', () => {
  it('in whatever pieces it comes', () => {
    const bytes = written();
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 40 }), { maxLength: 20 }), sizes => {
        const { frames, news, reader } = collector();
        let at = 0;
        for (const size of [...sizes, bytes.length]) {
          expect(reader.push(Buffer.from(bytes.subarray(at, at + size)))).toBeUndefined();
          at += size;
        }
        expect(frames).toEqual([
          {
            ...{ sequence: 1, tickS: 12.5, deadlineS: 12.525, packed: [1, 2, 3, 4, 5], cue: 7 },
            ...{ stampS: 12.45, arrivalS: 12.46 },
          },
        ]);
        expect(news).toEqual([['events', [{ kind: 'feed', silent: true }]]]);
      }),
      { seed: 1 },
    );
  });

  it('through a stream, frame by frame, in the order of writing', async () => {
    const stream = new PassThrough();
    const { frames, news, reader } = collector();
    const faults: (string | undefined)[] = [];
    stream.on('data', (chunk: Buffer) => faults.push(reader.push(chunk)));
    const writer = new PipeWriter(stream, [RUNS]);
    for (let tick = 1; tick <= 300; tick++) {
      writer.section(0, LEVELS.fill(tick & 0xff, 10), tick, tick + 0.025);
      if (tick % 50 === 0) writer.json('counters', { tick, name: 'Möwe 海鷗' });
      // The stream hands over what it holds at the next turn.
      await new Promise(resolve => setImmediate(resolve));
    }
    expect(writer.framesSkipped).toBe(0);
    expect(frames).toEqual(
      Array.from({ length: 300 }, (_, i) => ({
        sequence: i + 1,
        tickS: i + 1,
        deadlineS: i + 1.025,
        packed: [1, 2, 3, (i + 1) & 0xff, (i + 1) & 0xff],
        stampS: Number.NaN,
        arrivalS: Number.NaN,
      })),
    );
    const tick = (n: number) => ['counters', { tick: n, name: 'Möwe 海鷗' }];
    expect(news).toEqual([50, 100, 150, 200, 250, 300].map(tick));
    expect(new Set(faults)).toEqual(new Set([undefined]));
  });

  it('skips and counts a frame while the one before has not left', () => {
    const stream = new PassThrough({ highWaterMark: 1 });
    const writer = new PipeWriter(stream, [RUNS]);
    writer.section(0, LEVELS, 1, 2);
    writer.section(0, LEVELS, 2, 3);
    writer.section(0, LEVELS, 3, 4);
    expect(writer.framesSkipped).toBe(2);
  });

  it('each section with its own slots, under the number of its frame', async () => {
    const stream = new PassThrough();
    const got: [section: number, sequence: number, packed: number[]][] = [];
    const reader = new PipeReader([3, 2], {
      section: (section, sequence, _tickS, _deadlineS, packed) =>
        got.push([section, sequence, [...packed]]),
      json: () => undefined,
      snapshot: () => undefined,
    });
    stream.on('data', (chunk: Buffer) => expect(reader.push(chunk)).toBeUndefined());
    const writer = new PipeWriter(stream, SECTIONS);
    for (let tick = 1; tick <= 2; tick++) {
      const levels = Uint8Array.of(tick, 2, 3, 0, 0, 0, 0, 0, 0, 0, 4, 5);
      writer.section(0, levels, tick, tick + 0.025);
      writer.section(1, levels, tick, tick + 0.025);
      await new Promise(resolve => setImmediate(resolve));
    }
    expect(got).toEqual([
      [0, 1, [1, 2, 3]],
      [1, 1, [4, 5]],
      [0, 2, [2, 2, 3]],
      [1, 2, [4, 5]],
    ]);
  });

  it('skips a frame whole or not at all, however little of the one before is still there', () => {
    const stream = new PassThrough({ highWaterMark: 1 });
    const writer = new PipeWriter(stream, SECTIONS);
    for (const tickS of [1, 2, 3]) {
      writer.section(0, LEVELS, tickS, tickS + 1);
      writer.section(1, LEVELS, tickS, tickS + 1);
    }
    // The first section of the first waits in the stream, and the second behind it.
    expect(writer.framesSkipped).toBe(2);
    const sizes: number[] = [];
    const reader = new PipeReader([3, 2], {
      section: (_section, sequence, _tickS, _deadlineS, packed) =>
        sizes.push(100 * sequence + packed.length),
      json: () => undefined,
      snapshot: () => undefined,
    });
    for (let chunk = stream.read(); chunk !== null; chunk = stream.read()) reader.push(chunk);
    expect(sizes).toEqual([103, 102]);
  });

  it('drops and counts news that nobody reads', () => {
    const stream = new PassThrough();
    const writer = new PipeWriter(stream, [RUNS]);
    const long = 'x'.repeat(100_000);
    for (let i = 0; i < 30; i++) writer.json('snapshot', long);
    // 16 and 100 002 bytes each: eleven are over 1 MiB, and one the stream has passed on to be read.
    expect(writer.messagesDropped).toBeGreaterThanOrEqual(18);
    expect(stream.writableLength).toBeLessThan(1024 * 1024 + 100_018);
    // Frames are skipped as well, and both go on when somebody reads.
    writer.section(0, LEVELS, 1, 2);
    expect(writer.framesSkipped).toBe(1);
    while (stream.read() !== null);
    writer.section(0, LEVELS, 2, 3);
    expect(writer.framesSkipped).toBe(1);
  });
});

describe('what is no message is a fault, once and for all', () => {
  const broken: [what: string, at: number, value: number, fault: RegExp][] = [
    ['magic', HEAD.magic, 0, /not a message/],
    ['version', HEAD.version, 99, /version 99/],
    ['type 0', HEAD.type, 0, /type that does not exist/],
    ['type beyond the last', HEAD.type, MESSAGE_TYPES.length + 1, /type that does not exist/],
    ['length of a frame', HEAD.length, 46, /a frame of 46 bytes, where 49 are expected/],
    ['a longer frame than any', HEAD.length, 200, /a message of 200 bytes/],
    ['a frame without levels', HEAD.length, 41, /a frame of 41 bytes/],
    [
      'a section too many',
      HEAD_BYTES + FRAME.section,
      1,
      /section 1 of a frame, where there are 1/,
    ],
  ];
  it.each(broken)('%s', (_what, at, value, fault) => {
    const bytes = written();
    bytes[at] = value;
    const { frames, reader } = collector();
    expect(reader.push(bytes)).toMatch(fault);
    expect(reader.push(written())).toMatch(fault);
    expect(frames).toEqual([]);
  });

  const events = () => written().subarray(HEAD_BYTES + FRAME.levels + RUNS.count);

  it('a message longer than any, before it is waited for', () => {
    const bytes = events();
    bytes.writeUInt32LE(MAX_PAYLOAD_BYTES + 1, HEAD.length);
    expect(collector().reader.push(bytes.subarray(0, HEAD_BYTES))).toBe(
      `a message of ${MAX_PAYLOAD_BYTES + 1} bytes`,
    );
  });

  it('news that is not JSON', () => {
    const bytes = events();
    bytes[HEAD_BYTES] = 0;
    const { news, reader } = collector();
    expect(reader.push(bytes)).toBe('a message of type events that is not JSON');
    expect(news).toEqual([]);
  });

  it('and what came before it has been read', () => {
    const { frames, news, reader } = collector();
    const rest = Buffer.concat([Buffer.from('noise of sixteen'), written()]);
    expect(reader.push(Buffer.concat([written(), rest]))).toBe('bytes that are not a message');
    expect(frames).toHaveLength(1);
    expect(news).toHaveLength(1);
  });

  it('a time that is none', () => {
    const bytes = written();
    bytes.writeDoubleLE(Number.NaN, HEAD_BYTES + FRAME.deadline);
    expect(collector().reader.push(bytes)).toBe('a frame without a time');
  });

  it('never throws, whatever comes', () => {
    fc.assert(
      fc.property(fc.array(fc.uint8Array({ maxLength: 60 }), { maxLength: 10 }), chunks => {
        const { reader } = collector();
        for (const chunk of chunks) reader.push(Buffer.from(chunk));
      }),
      { seed: 2 },
    );
    const good = written();
    fc.assert(
      fc.property(fc.nat(good.length - 1), fc.nat(255), (at, value) => {
        const bytes = Buffer.from(good);
        bytes[at] = value;
        collector().reader.push(bytes);
      }),
      { seed: 3 },
    );
  });
});
