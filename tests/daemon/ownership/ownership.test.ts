import { type ChildProcess, spawn } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { udpPortOwner } from '../../../src/daemon/machine/process-of.js';
import { Lock } from '../../../src/daemon/ownership/lock.js';
import { Ownership, type Taken } from '../../../src/daemon/ownership/ownership.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

/** The kernel's own sockets, in names of this test alone. */
const NAME = `lampwright/test/${process.pid}`;

const MINIMAL = configShow('minimal').replace('127.0.0.1, to:', `lw${process.pid % 1e6}, to:`);
const OURS = { ok: true };
const problemsOf = (taken: Taken) => (taken.ok ? [] : taken.problems);
const cleanups: (() => void)[] = [];
afterEach(() => {
  for (const cleanup of cleanups.splice(0)) cleanup();
});
const own = () => {
  const ownership = new Ownership(() => undefined);
  cleanups.push(() => ownership.release());
  return ownership;
};

/** A process of its own that holds the name until it is killed, and does not answer. */
async function holder(name: string): Promise<ChildProcess> {
  const whole = name.padEnd(107, '/');
  const code = `require('node:net').createServer(() => { for (;;); }).listen('\\0${whole}', () => console.log('ok'))`;
  const child = spawn(process.execPath, ['-e', code], { stdio: ['ignore', 'pipe', 'inherit'] });
  cleanups.push(() => child.kill('SIGKILL'));
  await new Promise(resolve => child.stdout?.once('data', resolve));
  return child;
}

describe('a lock', () => {
  it('is of one process, which says who it is', async () => {
    const first = await Lock.take(NAME, () => 'show "A"');
    expect(first.ok).toBe(true);
    expect(await Lock.take(NAME, () => 'show "B"')).toEqual({
      ok: false,
      holder: { pid: process.pid, what: 'show "A"' },
    });
    if (first.ok) first.lock.release();
    const second = await Lock.take(NAME, () => 'show "B"');
    expect(second.ok).toBe(true);
    if (second.ok) second.lock.release();
  });

  it('of a process that does not answer is found by the system, and free once that is killed', async () => {
    const child = await holder(NAME);
    expect(await Lock.take(NAME, () => '')).toEqual({
      ok: false,
      holder: { pid: child.pid, what: 'node' },
    });
    // Not waited for: the next one starts while this one is still dying.
    child.kill('SIGKILL');
    const taken = await Lock.take(NAME, () => '');
    expect(taken.ok).toBe(true);
    if (taken.ok) taken.lock.release();
  });
});

describe('a holder that is hostile', () => {
  const whole = NAME.padEnd(107, '/');
  async function hold(serve: (socket: Socket) => void): Promise<void> {
    const server = createServer(serve);
    await new Promise<void>(resolve => server.listen(`\0${whole}`, resolve));
    cleanups.push(() => server.close());
  }

  it('is not waited for while it says its answer slowly', async () => {
    await hold(socket => {
      socket.on('error', () => undefined);
      const drip = setInterval(() => socket.write(' '), 100);
      socket.on('close', () => clearInterval(drip));
    });
    const startedS = performance.now() / 1000;
    expect((await Lock.take(NAME, () => '')).ok).toBe(false);
    expect(performance.now() / 1000 - startedS).toBeLessThan(4);
  });

  it('is called what the system calls it, and what it says of itself is printable', async () => {
    await hold(socket => socket.end(JSON.stringify({ pid: 1, what: 'a' })));
    expect(await Lock.take(NAME, () => '')).toMatchObject({ holder: { pid: process.pid } });
    cleanups.splice(0).forEach(cleanup => void cleanup());
    await hold(socket => socket.end(JSON.stringify({ pid: process.pid, what: 'a\u001b[2J\nb' })));
    expect(await Lock.take(NAME, () => '')).toMatchObject({ holder: { what: 'a\\u001b[2J\\nb' } });
  });
});

describe('what one process has', () => {
  it('is each universe of each interface: a second show on one of them is told who has it', async () => {
    const first = own();
    expect(await first.take(showOf(MINIMAL), undefined)).toEqual(OURS);
    const both = showOf(
      MINIMAL.replace('name: One lamp', 'name: Another').replace(
        'universes: [1]',
        'universes: [1, 2]',
      ),
    );
    const second = own();
    const refused = await second.take(both, undefined);
    expect(refused).toMatchObject({ ok: false, isHeld: true });
    expect(problemsOf(refused)[0]).toMatch(
      new RegExp(`^process ${process.pid} \\(show "One lamp"\\) has sACN universe 1 on lw`),
    );
    // It holds nothing of it then: universe 2 is free.
    const third = own();
    const other = showOf(
      MINIMAL.replace('universes: [1]', 'universes: [2]').replace('universe: 1', 'universe: 2'),
    );
    expect(await third.take(other, undefined)).toEqual(OURS);
  });

  it('grows with a reload, and gives back what the new show does not need', async () => {
    const ownership = own();
    const [one, two] = [1, 2].map(universe =>
      showOf(
        MINIMAL.replace('universes: [1]', `universes: [${universe}]`).replace(
          'universe: 1',
          `universe: ${universe}`,
        ),
      ),
    ) as [ReturnType<typeof showOf>, ReturnType<typeof showOf>];
    await ownership.take(one, undefined);
    expect(await ownership.take(two, undefined)).toEqual(OURS);
    ownership.keep(two);
    expect(await own().take(one, undefined)).toEqual(OURS);
    expect(problemsOf(await own().take(two, undefined))).toHaveLength(1);
  });

  it('is the state folder, by whatever name, also where only its control socket answers', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-owned-'));
    cleanups.push(() => rmSync(folder, { recursive: true }));
    const first = own();
    const other = showOf(
      MINIMAL.replace('universes: [1]', 'universes: [3]').replace('universe: 1', 'universe: 3'),
    );
    expect(await first.take(showOf(MINIMAL), folder)).toEqual(OURS);
    const again = `${folder}/../${folder.split('/').at(-1)}`;
    expect(problemsOf(await own().take(other, again))[0]).toContain('the state folder');
    first.release();
    const server = createServer();
    await new Promise<void>(resolve => server.listen(join(folder, 'control.sock'), resolve));
    cleanups.push(() => server.close());
    expect(problemsOf(await own().take(other, folder))[0]).toContain('the state folder');
  });
});

it('a UDP port is traced to its process', async () => {
  const socket = createSocket('udp4');
  await new Promise<void>(resolve => socket.bind(0, '127.0.0.1', resolve));
  expect(udpPortOwner(socket.address().port)?.pid).toBe(process.pid);
  const { port } = socket.address();
  socket.close();
  expect(udpPortOwner(port)).toBeUndefined();
});
