import { expect, it } from 'vitest';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { Latecomers } from '../../../src/daemon/ownership/latecomers.js';
import type { Taken } from '../../../src/daemon/ownership/ownership.js';
import { parseShow } from '../../../src/show/parse.js';
import { MINIMAL } from '../../show/base.js';

const ETH0 = {
  name: 'eth0',
  address: '10.0.0.2',
  loopback: false,
  netmask: '255.255.255.0',
  broadcast: '10.0.0.255',
};

it('an interface that comes late is ours once its own name is; who has it is said once', async () => {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const events: LightingEvent[] = [];
  let answer: Taken = { ok: false, isHeld: true, problems: ['process 77 has it.'] };
  let holds = false;
  let taken = 0;
  const ownership = {
    holds: () => holds,
    take: async () => {
      taken += 1;
      holds = answer.ok;
      return answer;
    },
  };
  const latecomers = new Latecomers(ownership, event => events.push(event));
  const ask = async () => {
    const admitted = latecomers.admits(parsed.show, ETH0);
    await Promise.resolve();
    return admitted;
  };
  // One answer at a time.
  expect([latecomers.admits(parsed.show, ETH0), await ask(), taken]).toEqual([false, false, 1]);
  for (let i = 0; i < 5; i++) expect(await ask()).toBe(false);
  expect(events).toEqual([
    { kind: 'interface-lost', interface: 'eth0', reason: 'process 77 has it.' },
  ]);
  answer = { ok: true };
  expect([await ask(), await ask()]).toEqual([false, true]);
});
