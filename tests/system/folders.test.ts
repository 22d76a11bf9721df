import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, lampwright, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** Folders that the daemon keeps things in go while it runs, as a pulled stick or a tidy administrator has it. */
let parent: string;
let state: string;
let runtime: string;
let show: ReturnType<typeof variantOf>;
let sacn: SacnReceiver;
let trackers: Trackers;
let daemon: Daemon;

const start = () => Daemon.run(show.file, { RUNTIME_DIRECTORY: runtime }, ['--state-dir', state]);
const told = (kind: string) =>
  daemon.log.filter(line => line.kind === kind).map(line => String(line.what));
const status = async () => (await lampwright(['tell', state, 'status'])).stdout;

beforeEach(async () => {
  parent = mkdtempSync(join(tmpdir(), 'lampwright-folders-'));
  state = join(parent, 'state');
  runtime = join(parent, 'runtime');
  for (const folder of [state, runtime]) mkdirSync(folder);
  show = variantOf('config/minimal.show.yaml', []);
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  trackers.place(1, 2, 3);
});
afterEach(async () => {
  await daemon.stop();
  trackers.close();
  sacn.close();
  show.remove();
  rmSync(parent, { recursive: true });
});

it('state and runtime folder that go and come back hold again what a restart over a broken show needs', async () => {
  daemon = start();
  await until('it is live', () => sacn.last[0] === 255, 20);
  const cid = sacn.packets.at(-1)?.cid ?? '';

  for (const folder of [state, runtime]) rmSync(folder, { recursive: true });
  await until('it is said of all three', () => new Set(told('unkept')).size === 3, 5);
  // A stop is refused to be kept, and is not kept where nobody would find it.
  await sleep(1500);
  expect(existsSync(state)).toBe(false);
  for (const folder of [state, runtime]) mkdirSync(folder, { recursive: true });
  await until('all three are kept again', () => new Set(told('kept')).size === 3, 5);
  await until('what is sent too', () => existsSync(join(runtime, 'last-look')), 5);
  expect(readFileSync(join(state, 'cid'), 'utf8').replaceAll('-', '').trim()).toBe(cid);

  const good = readFileSync(show.file, 'utf8');
  writeFileSync(show.file, good.replace('zone: stove', 'zone: stoev'));
  const from = sacn.packets.length;
  daemon.signal('SIGKILL');
  await daemon.exited;
  daemon = start();
  await until('it sends', () => sacn.packets.length > from);
  await until('it is live again', () => sacn.last[0] === 255, 20);
  await until('the log says why', () => daemon.log.some(({ kind }) => kind === 'show-stale'), 5);
  expect(await status()).toContain('the show that was accepted last runs');
  // One source that begins where the light stood, and no step that a fade would not make.
  const packets = sacn.packets.slice(from - 1);
  expect(new Set(packets.map(packet => packet.cid))).toEqual(new Set([cid]));
  const steps = packets.map((packet, i) =>
    Math.abs((packet.slots[0] ?? 0) - ((packets[i - 1] ?? packet).slots[0] ?? 0)),
  );
  // The limit on intensity: the whole range in a tenth of a second, over a beat of at most 0.05 s.
  expect(Math.max(...steps)).toBeLessThanOrEqual(128);
}, 60_000);

it('a state folder that has to be made is told of: the disk where it was may be missing', async () => {
  daemon = start();
  await until('it runs', () => daemon.enginePid > 0);
  expect(daemon.log.filter(({ kind }) => kind === 'state-folder')).toEqual([]);
  await daemon.stop();
  rmSync(state, { recursive: true });
  daemon = start();
  await until('it runs again', () => daemon.enginePid > 0);
  expect(daemon.log.filter(({ kind }) => kind === 'state-folder')).toMatchObject([
    { folder: state, msg: expect.stringContaining('was missing and has been made') },
  ]);
});
