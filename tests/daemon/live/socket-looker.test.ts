import { expect, it } from 'vitest';
import { socketLooker } from '../../../src/daemon/live/socket-looker.js';

/** A socket that is read as a test says, and a clock of the test's own. */
function rig() {
  const told = { nowMs: 0, stuck: 0 };
  const socket = {
    destroyed: false,
    writableLength: 0,
    written: 0,
    write(line: string) {
      socket.writableLength += line.length;
      socket.written += 1;
      return true;
    },
  };
  const looker = socketLooker(
    socket as never,
    10,
    () => told.stuck++,
    () => told.nowMs,
  );
  return { told, socket, looker };
}

it('is told to be stuck after 15 s in which nothing was read, however little waits', () => {
  const { told, socket, looker } = rig();
  for (; told.nowMs <= 15_000; told.nowMs += 100) looker.write('0123456789');
  expect(told.stuck).toBe(0);
  expect(socket.written).toBe(151);
  looker.write('0123456789');
  expect(told.stuck).toBe(1);
});

it('is never stuck while it reads something, and misses lines beyond 4 MiB', () => {
  const { told, socket, looker } = rig();
  const line = 'ü'.repeat(100_000);
  for (; told.nowMs <= 120_000; told.nowMs += 100) {
    looker.write(line);
    // A trickle.
    if (told.nowMs % 5000 === 0) socket.writableLength -= 1000;
    expect(socket.writableLength).toBeLessThanOrEqual(4 * 1024 * 1024 + line.length);
  }
  expect(told.stuck).toBe(0);
  expect(socket.written).toBeLessThan(60);
});

it('has been idle for as long as nothing was read of what waits, and not while nothing waits', () => {
  const { told, socket, looker } = rig();
  told.nowMs = 60_000;
  expect(looker.idleMs).toBe(0);
  looker.write('0123456789');
  told.nowMs = 63_000;
  expect(looker.idleMs).toBe(3000);
  socket.writableLength = 0;
  expect(looker.idleMs).toBe(0);
});
