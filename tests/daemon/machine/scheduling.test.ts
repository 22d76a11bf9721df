import { describe, expect, it } from 'vitest';
import { policyIn, realtimePolicy } from '../../../src/daemon/machine/scheduling.js';

/** proc_pid_stat(5): 52 fields, of which the 41st is the policy. */
function statOf(name: string, policy: number): string {
  const fields = Array.from({ length: 50 }, (_, i) => (i === 38 ? policy : 7));
  return `4711 (${name}) ${fields.join(' ')}\n`;
}

describe('the scheduling policy of this process', () => {
  it.each([
    [0, undefined],
    [1, 'SCHED_FIFO'],
    [2, 'SCHED_RR'],
    [3, undefined],
    [5, undefined],
    [6, 'SCHED_DEADLINE'],
  ])('%i of linux/sched.h is %s', (policy, name) => {
    expect(policyIn(statOf('node', policy))).toBe(name);
    expect(policyIn(statOf('a) 1 (b', policy))).toBe(name);
  });

  it('is none here, and nothing is claimed of other texts', () => {
    // Tests run as all programs do.
    expect(realtimePolicy()).toBeUndefined();
    for (const text of ['', '1 (x) R', 'nothing']) expect(policyIn(text)).toBeUndefined();
  });
});
