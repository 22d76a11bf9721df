import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { LogSink, type LogWriter } from '../../../src/daemon/log/log-sink.js';

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

const fault = (code: string) => Object.assign(new Error(`write ${code}`), { code });

/** A file that takes so many bytes at a time, or fails, or is slow; as the test says. */
class FakeFile {
  text = '';
  code: string | undefined;
  atOnce = Number.POSITIVE_INFINITY;
  readonly stalled: (() => void)[] = [];
  stalls = false;
  readonly writer: LogWriter = (bytes, done) => {
    const act = () => {
      const taken = Math.min(bytes.length, this.atOnce);
      if (this.code !== undefined) return done(fault(this.code), 0);
      this.text += bytes.toString('utf8', 0, taken);
      done(null, taken);
    };
    if (this.stalls) this.stalled.push(act);
    else queueMicrotask(act);
  };
}

function sinkOf(file: FakeFile): LogSink {
  return new LogSink({ lossLine: (lost, why) => `${lost} lost: ${why}\n`, writer: file.writer });
}

const turn = () => vi.advanceTimersByTimeAsync(0);

it('writes lines in order, also to a pipe that takes a few bytes at a time', async () => {
  const file = new FakeFile();
  file.atOnce = 3;
  const sink = sinkOf(file);
  for (let i = 0; i < 50; i++) sink.write(`line ${i}\n`);
  await turn();
  expect(file.text).toBe(Array.from({ length: 50 }, (_, i) => `line ${i}\n`).join(''));
});

it('does not wait for a reader that stalls: bounded, counted, and said afterwards', async () => {
  const file = new FakeFile();
  file.stalls = true;
  const sink = sinkOf(file);
  const line = `${'x'.repeat(1023)}\n`;
  for (let i = 0; i < 3000; i++) sink.write(line);
  // The first line is under way, 1 MiB waits.
  expect(sink.lost).toBe(3000 - 1 - 1024);
  file.stalls = false;
  file.stalled.shift()?.();
  await turn();
  expect(file.text.split('\n').filter(text => text.startsWith('x')).length).toBe(1025);
  expect(file.text).toContain("1975 lost: whoever reads the log can't keep up\n");
});

it('gives up on a broken pipe without an error', async () => {
  const file = new FakeFile();
  file.code = 'EPIPE';
  const sink = sinkOf(file);
  sink.write('a\n');
  await turn();
  for (let i = 0; i < 10_000; i++) sink.write('b\n');
  await turn();
  expect(sink.lost).toBe(10_001);
  await sink.flush(1000);
});

it('tries again when the disk was full, and begins a new line', async () => {
  const file = new FakeFile();
  const sink = sinkOf(file);
  file.atOnce = 2;
  sink.write('hello\n');
  await Promise.resolve(); // two bytes are written
  file.code = 'ENOSPC';
  await turn();
  sink.write('second\n');
  await vi.advanceTimersByTimeAsync(400);
  expect(file.text).toBe('he');
  file.code = undefined;
  file.atOnce = 1000;
  await vi.advanceTimersByTimeAsync(200);
  expect(file.text).toBe('he\n1 lost: write ENOSPC\nsecond\n');
  expect(sink.lost).toBe(1);
});

it('keeps what a full non-blocking pipe did not take', async () => {
  const file = new FakeFile();
  file.code = 'EAGAIN';
  const sink = sinkOf(file);
  sink.write('a\n');
  await turn();
  file.code = undefined;
  await vi.advanceTimersByTimeAsync(600);
  expect(file.text).toBe('a\n');
  expect(sink.lost).toBe(0);
});

it('flushes no longer than told', async () => {
  const file = new FakeFile();
  file.stalls = true;
  const sink = sinkOf(file);
  sink.write('a\n');
  let done = false;
  void sink.flush(300).then(() => {
    done = true;
  });
  await vi.advanceTimersByTimeAsync(299);
  expect(done).toBe(false);
  await vi.advanceTimersByTimeAsync(1);
  expect(done).toBe(true);
});
