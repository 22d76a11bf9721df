import { expect, it } from 'vitest';
import { MemoryGauge } from '../../../src/daemon/machine/memory-use.js';

it('tells of this process', () => {
  const { heapUsed, rss } = new MemoryGauge().now;
  expect(heapUsed).toBeGreaterThan(1e6);
  expect(rss).toBeGreaterThan(heapUsed / 2);
});

it('tells what was known last where the system does not tell, and ends nothing', () => {
  let fails = true;
  const gauge = new MemoryGauge(() => {
    if (fails) throw Object.assign(new Error('uv_resident_set_memory'), { code: 'EMFILE' });
    return { heapUsed: 3, rss: 4 };
  });
  expect(gauge.now).toEqual({ heapUsed: 0, rss: 0 });
  fails = false;
  expect(gauge.now).toEqual({ heapUsed: 3, rss: 4 });
  fails = true;
  expect(gauge.now).toEqual({ heapUsed: 3, rss: 4 });
});
