import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Daemon, lampwright, type Received, SacnReceiver, until, variantOf } from './support.js';

let folder: string;
let state: string;
let runtime: string;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let one: SacnReceiver;

const start = (...options: string[]) =>
  Daemon.run(show.file, { RUNTIME_DIRECTORY: runtime }, ['--state-dir', state, ...options]);

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-own-'));
  [state, runtime] = [join(folder, 'state'), folder];
  show = variantOf('config/minimal.show.yaml', [['universes: [1]', 'universes: [1, 2]']]);
  one = await SacnReceiver.open(1);
  daemon = start();
  await until('the engine runs', () => daemon.enginePid > 0);
});
afterEach(async () => {
  await daemon.stop();
  one.close();
  show.remove();
  rmSync(folder, { recursive: true });
});

/** One source without a break: a receiver has no reason to drop a packet (E1.31 6.7.2), nor to let it go. */
function expectOneStream(packets: readonly Received[], mostLost: number): void {
  expect(packets.length).toBeGreaterThan(0);
  expect(new Set(packets.map(({ cid }) => cid)).size).toBe(1);
  expect(packets.filter(({ terminated }) => terminated)).toEqual([]);
  packets.forEach(({ sequence }, i) => {
    if (i === 0) return;
    const step = (sequence - (packets[i - 1]?.sequence ?? 0) + 256) % 256;
    expect(step).toBeGreaterThanOrEqual(1);
    expect(step).toBeLessThanOrEqual(1 + mostLost);
  });
}

describe('a second run of a show that runs', () => {
  it.each([[], ['--standby']])(
    'sends no packet, touches no file, says who has it, and ends with 3 (%s)',
    async (...options) => {
      await sleep(1000); // the first repeats of the levels that don't change
      const files = readdirSync(state).sort();
      const before = one.packets.length;
      const startedS = performance.now();
      const second = start(...options);
      expect(await second.exited).toBe(3);
      const tookS = (performance.now() - startedS) / 1000;
      expect(second.stderr).toContain(
        `process ${daemon.pid} (show "One lamp") has sACN universe 1`,
      );
      expect(second.log).toEqual([]);
      // Only the first one's repeats of levels that don't change, every 0.9 s (E1.31 6.6.2).
      expect(one.packets.length - before).toBeLessThanOrEqual(2 + tookS);
      expectOneStream(one.packets, 0);
      expect(readdirSync(state).sort()).toEqual(files);
      expect((await lampwright(['tell', state, 'status'])).stdout).toContain('One lamp');
    },
  );

  it('nor does one that stands still lose it', async () => {
    daemon.signal('SIGSTOP');
    const second = start();
    expect(await second.exited).toBe(3);
    expect(second.stderr).toContain(`process ${daemon.pid} `);
    daemon.signal('SIGCONT');
    expect(existsSync(join(state, 'control.sock'))).toBe(true);
  });

  it('after the first was killed this instant takes over, as the same source with the next numbers', async () => {
    await until('some packets', () => one.packets.length > 5);
    const killedS = performance.now() / 1000;
    daemon.signal('SIGKILL');
    daemon = start();
    await until('it sends', () => one.packets.some(({ atS }) => atS > killedS + 0.05), 20);
    await until('its engine runs', () => daemon.enginePid > 0);
    await sleep(500);
    expectOneStream(one.packets, 6);
  });
});

it('a show that is renamed in mid-stream stays one source', async () => {
  const text = readFileSync(show.file, 'utf8');
  writeFileSync(show.file, text.replace('One lamp', 'Another name'));
  daemon.signal('SIGHUP');
  await until(
    'the source has its new name',
    () => one.packets.at(-1)?.source === 'lampwright Another name',
    20,
  );
  expectOneStream(one.packets, 0);
});

it('a universe that a reload drops ends with three terminated packets, the others go on', async () => {
  // One port, so one receiver at a time: the kernel gives a unicast datagram to one socket.
  one.close();
  const two = await SacnReceiver.open(2);
  const text = readFileSync(show.file, 'utf8');
  await until('it is sent', () => two.packets.length > 0);
  writeFileSync(show.file, text.replace('universes: [1, 2]', 'universes: [1]'));
  daemon.signal('SIGHUP');
  await until('it ends', () => two.packets.filter(({ terminated }) => terminated).length >= 3, 20);
  await sleep(1200); // longer than any repeat
  const ends = two.packets.map(({ terminated }) => terminated);
  // E1.31 6.2.6: three, and nothing after them.
  expect(ends.slice(-3)).toEqual([true, true, true]);
  expect(ends.slice(0, -3).some(Boolean)).toBe(false);
  two.close();
  one = await SacnReceiver.open(1);
  await until('the other goes on', () => one.packets.length > 0);
  expect(one.packets[0]?.terminated).toBe(false);
});

it('a system that gives no socket is no other process that has the name', async () => {
  const limited = `
    const { Lock } = await import('${new URL('../../dist/daemon/ownership/lock.js', import.meta.url)}');
    const { execFileSync } = await import('node:child_process');
    const { readdirSync } = await import('node:fs');
    execFileSync('prlimit', ['--pid', String(process.pid), '--nofile=' + (readdirSync('/proc/self/fd').length - 1)]);
    console.log(JSON.stringify(await Lock.take('lampwright/test/${process.pid}', () => '')));
  `;
  const { stdout } = spawnSync(process.execPath, ['--input-type=module', '-e', limited], {
    encoding: 'utf8',
  });
  expect(JSON.parse(stdout)).toMatchObject({
    ok: false,
    fault: expect.stringContaining('EMFILE'),
  });
});
