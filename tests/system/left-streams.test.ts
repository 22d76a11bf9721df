import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, SacnReceiver, until, variantOf } from './support.js';

let runtime: string;
let show: ReturnType<typeof variantOf>;
let sacn: SacnReceiver;
let daemon: Daemon;
/** What it leaves for the next one; the first packet is out a moment before. */
const hasNoted = () => sacn.packets.length > 0 && existsSync(join(runtime, 'last-look'));
const start = () => Daemon.run(show.file, { RUNTIME_DIRECTORY: runtime });

beforeEach(async () => {
  runtime = mkdtempSync(join(tmpdir(), 'lampwright-left-'));
  show = variantOf('config/minimal.show.yaml', []);
  sacn = await SacnReceiver.open(1);
});
afterEach(async () => {
  await daemon.stop();
  sacn.close();
  show.remove();
  rmSync(runtime, { recursive: true });
});

it('a daemon that is killed on its way to other universes: the next one ends those that it left (E1.31 6.2.6)', async () => {
  daemon = start();
  await until('it sends, and has noted it', hasNoted);
  daemon.signal('SIGKILL');
  await daemon.exited;
  const { length: sent } = sacn.packets;
  const before = sacn.packets.at(-1);
  const text = readFileSync(show.file, 'utf8');
  writeFileSync(
    show.file,
    text.replace('universe: 1', 'universe: 2').replace('universes: [1]', 'universes: [2]'),
  );
  daemon = start();
  await until('the universe is ended', () => sacn.packets.length >= sent + 3);
  await until('it is said', () => daemon.log.some(({ kind }) => kind === 'left-ended'));
  expect(await daemon.stop()).toBe(0);
  // Three packets, of the same source; what may have left without being noted is left out.
  const ended = sacn.packets.slice(sent);
  expect(ended.map(({ terminated }) => terminated)).toEqual([true, true, true]);
  expect(new Set(ended.map(({ cid }) => cid))).toEqual(new Set([before?.cid]));
  const numbers = ended.map(({ sequence }) => (sequence - (before?.sequence ?? 0) + 256) % 256);
  expect(numbers[0]).toBeGreaterThan(0);
  expect(numbers[0]).toBeLessThan(20);
  expect(numbers).toEqual([0, 1, 2].map(i => (numbers[0] ?? 0) + i));
});

it.each(['lighting9', '127.0.0.2'])(
  'a universe that is to leave by another interface, %s, is not ended: it goes on, or is looked for',
  async other => {
    daemon = start();
    await until('it sends, and has noted it', hasNoted);
    daemon.signal('SIGKILL');
    await daemon.exited;
    const text = readFileSync(show.file, 'utf8');
    writeFileSync(show.file, text.replace('interface: 127.0.0.1', `interface: ${other}`));
    daemon = start();
    await until('the engine runs', () => daemon.enginePid > 0);
    expect(await daemon.stop()).toBe(0);
    expect(daemon.log.some(({ kind }) => kind === 'left-ended')).toBe(false);
    const running = daemon.log.find(({ msg }) => String(msg).includes(' is running: '));
    expect(running?.msg).toContain(
      other === 'lighting9' ? 'NO LIGHT LEAVES THIS MACHINE; lamps can' : 'the safe look is out',
    );
  },
);

it('a reload that moves a universe to another interface does not end it: a receiver knows the source and the universe', async () => {
  daemon = start();
  await until('it sends, and has noted it', hasNoted);
  await until('the engine runs', () => daemon.enginePid > 0);
  const text = readFileSync(show.file, 'utf8');
  writeFileSync(show.file, text.replace('interface: 127.0.0.1', 'interface: 127.0.0.2'));
  daemon.signal('SIGHUP');
  await until('it is reloaded', () => daemon.log.some(({ kind }) => kind === 'reloaded'));
  const { length: sent } = sacn.packets;
  await until('it goes on', () => sacn.packets.length > sent + 2);
  expect(sacn.packets.filter(({ terminated }) => terminated)).toEqual([]);
  expect(new Set(sacn.packets.map(({ cid }) => cid)).size).toBe(1);
});

it('universes that go on are not ended, nor is anything after a clean end', async () => {
  daemon = start();
  await until('it sends, and has noted it', hasNoted);
  daemon.signal('SIGKILL');
  await daemon.exited;
  const { length: sent } = sacn.packets;
  daemon = start();
  await until('it goes on', () => sacn.packets.length > sent + 3);
  expect(sacn.packets.some(({ terminated }) => terminated)).toBe(false);
  expect(daemon.log.some(({ kind }) => kind === 'left-ended')).toBe(false);
});
