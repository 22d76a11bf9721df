import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { lookAtMachine } from '../../../src/daemon/listening/look-at-machine.js';
import { Lock } from '../../../src/daemon/ownership/lock.js';
import { PAIR } from '../../readiness/shows.js';
import { showOf } from '../../show/show-of.js';

it('shows what this machine has, who holds what, and gives back all that it took', async () => {
  const taken = createSocket('udp4');
  taken.bind(0, '127.0.0.1');
  await once(taken, 'listening');
  const name = `lampwright/sacn/7/test${process.pid}`;
  const got = await Lock.take(name, () => 'a test');
  const show = showOf(PAIR.replace('port: 9010', `port: ${taken.address().port}`));
  const question = { leastNode: '20.19', shippedUnit: 'systemd/lampwright@.service' };
  const folders = new Map([
    ['record', tmpdir()],
    ['state-dir', join(tmpdir(), 'lampwright-not-there', 'yet')],
    ['a file', 'package.json'],
    ['below a file', 'package.json/state'],
  ]);
  try {
    const facts = await lookAtMachine({ ...question, show, folders });
    expect(facts.ports[0]).toMatchObject({ input: 'tracking', holder: { pid: process.pid } });
    expect(facts.ports[0]?.fault).toContain(String(process.pid));
    expect(facts.others.find(({ pid }) => pid === process.pid)?.holds).toContain(
      name.replace('lampwright/', ''),
    );
    expect(facts.folders.map(({ fault, willBeMade }) => fault ?? willBeMade)).toEqual([
      undefined,
      true,
      'it is a file, not a folder',
      'a part of its path is not a folder',
    ]);
    expect(facts.interfaces.some(({ loopback }) => loopback)).toBe(true);
    expect(facts.receiveBuffer?.gotBytes).toBeGreaterThan(0);
  } finally {
    taken.close();
    if (got.ok) got.lock.release();
  }
});
