import { execFileSync } from 'node:child_process';
import { expect, it } from 'vitest';

/**
 * Two machines that share the universes of one show, each with its standby, in network namespaces on one switch, and a
 * gateway that arbitrates as E1.31 6.2.3 and 6.7.1 say. Needs root and iproute2.
 */
interface Heard {
  readonly longestS: number;
  readonly changes: number;
  readonly step: number;
}

it('one of two machines dies: its standby has its universes, and the others are not touched', () => {
  const text = execFileSync(process.execPath, ['bench/machines.mjs', '2', '4'], {
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const { steady, death, others } = JSON.parse(text) as Record<string, Heard>;
  expect(steady?.changes).toBe(0);
  // The 2.5 s of E1.31 6.7.1, from its last packet on; a still universe may have sent that 0.9 s before it died.
  expect(death?.longestS).toBeGreaterThan(2.4);
  expect(death?.longestS).toBeLessThan(3.5);
  expect(others?.changes).toBe(0);
  // No longer than a universe that stands still (E1.31 6.6.2).
  expect(others?.longestS).toBeLessThan(1.3);
}, 120_000);
