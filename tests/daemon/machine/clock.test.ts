import { afterEach, expect, it, vi } from 'vitest';
import { monotonicS, unixOffsetS } from '../../../src/daemon/machine/clock.js';

afterEach(() => {
  vi.restoreAllMocks();
  vi.resetModules();
});

/** The smallest of some distances: what happens between two readings only adds to it. */
function leastDistance(read: () => number): number {
  return Math.min(...Array.from({ length: 100 }, () => Math.abs(read())));
}

it('reads the monotonic clock of the system, which both processes share', () => {
  const systemS = () => Number(process.hrtime.bigint()) / 1e9;
  // A tenth of a millisecond: a 250th of a tick.
  expect(leastDistance(() => monotonicS() - systemS())).toBeLessThan(1e-4);
});

it('gives the distance to Unix time', () => {
  // Date.now() has whole milliseconds.
  expect(leastDistance(() => unixOffsetS() + monotonicS() - Date.now() / 1e3)).toBeLessThan(2e-3);
});

it('is right even if the process was held up while it set its clock', async () => {
  const { bigint } = process.hrtime;
  vi.resetModules();
  // As if 50 ms had passed between the first two readings.
  vi.spyOn(process.hrtime, 'bigint').mockImplementationOnce(() => bigint() - 50_000_000n);
  const fresh = await import('../../../src/daemon/machine/clock.js');
  expect(leastDistance(() => fresh.monotonicS() - monotonicS())).toBeLessThan(1e-4);
});
