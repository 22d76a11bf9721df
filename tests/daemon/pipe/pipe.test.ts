import { PassThrough } from 'node:stream';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { FRAME, HEAD, HEAD_BYTES, MESSAGE_TYPES } from '../../../src/daemon/pipe/layout.js';
import { PipeReader, type PipeVisitor } from '../../../src/daemon/pipe/reader.js';
import { PipeWriter } from '../../../src/daemon/pipe/writer.js';
import type { SlotRuns } from '../../../src/show/patched-slots.js';

const RUNS: SlotRuns = {
  starts: Int32Array.of(0, 10),
  lengths: Int32Array.of(3, 2),
  count: 5,
};
const LEVELS = Uint8Array.of(1, 2, 3, 0, 0, 0, 0, 0, 0, 0, 4, 5);

/** Bytes of one frame and one message of news. */
function written(): Buffer {
  const stream = new PassThrough();
  const writer = new PipeWriter(stream, RUNS);
  writer.frame(LEVELS, 12.5, 12.525);
  // What was written lies in the stream until it is read; the next frame would be skipped.
  const first = Buffer.from(stream.read() as Buffer);
  writer.json('events', [{ kind: 'feed', silent: true }]);
  return Buffer.concat([first, stream.read() as Buffer]);
}

function collector() {
  const frames: { sequence: number; tickS: number; deadlineS: number; packed: number[] }[] = [];
  const news: [type: string, value: unknown][] = [];
  const visitor: PipeVisitor = {
    frame: (sequence, tickS, deadlineS, packed) =>
      frames.push({ sequence, tickS, deadlineS, packed: [...packed] }),
    json: (type, value) => news.push([type, value]),
  };
  return { frames, news, reader: new PipeReader(RUNS.count, visitor) };
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
          { sequence: 1, tickS: 12.5, deadlineS: 12.525, packed: [1, 2, 3, 4, 5] },
        ]);
        expect(news).toEqual([['events', [{ kind: 'feed', silent: true }]]]);
      }),
      { seed: 1 },
    );
  });

  it('skips and counts a frame while the one before has not left', () => {
    const stream = new PassThrough({ highWaterMark: 1 });
    const writer = new PipeWriter(stream, RUNS);
    writer.frame(LEVELS, 1, 2);
    writer.frame(LEVELS, 2, 3);
    writer.frame(LEVELS, 3, 4);
    expect(writer.framesSkipped).toBe(2);
  });

  it('drops and counts news that nobody reads', () => {
    const stream = new PassThrough();
    const writer = new PipeWriter(stream, RUNS);
    const long = 'x'.repeat(100_000);
    for (let i = 0; i < 30; i++) writer.json('snapshot', long);
    expect(writer.messagesDropped).toBeGreaterThan(0);
    expect(stream.writableLength).toBeLessThan(2_000_000);
  });
});

describe('what is no message is a fault, once and for all', () => {
  const broken: [what: string, at: number, value: number, fault: RegExp][] = [
    ['magic', HEAD.magic, 0, /no message/],
    ['version', HEAD.version, 9, /version 9/],
    ['type 0', HEAD.type, 0, /type that does not exist/],
    ['type beyond the last', HEAD.type, MESSAGE_TYPES.length + 1, /type that does not exist/],
    ['length of a frame', HEAD.length, 200, /a frame of 200 bytes/],
  ];
  it.each(broken)('%s', (_what, at, value, fault) => {
    const bytes = written();
    bytes[at] = value;
    const { frames, reader } = collector();
    expect(reader.push(bytes)).toMatch(fault);
    expect(reader.push(written())).toMatch(fault);
    expect(frames).toEqual([]);
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
