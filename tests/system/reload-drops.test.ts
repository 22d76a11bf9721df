import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, type Received, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** Of both lamps: 20 per cent. */
const SAFE = 51;
const FADE_S = 2;
let both: ReturnType<typeof variantOf>;
let daemon: Daemon;
let stays: SacnReceiver;
let goes: SacnReceiver;
let trackers: Trackers;

beforeEach(async () => {
  stays = await SacnReceiver.open(1);
  goes = await SacnReceiver.open(2, '127.0.0.2');
  trackers = new Trackers();
  both = variantOf('config/minimal.show.yaml', [
    [
      'mappings:',
      '  window-glow: { profile: dimmer, universe: 2, address: 1, safe: { Dimmer: 20 } }\nmappings:',
    ],
    ['fixtures: [stove-glow]', 'fixtures: [stove-glow, window-glow]'],
    [
      'universes: [1] }',
      'universes: [1] }\n  more: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.2], universes: [2] }',
    ],
  ]);
  daemon = Daemon.run(both.file);
  trackers.place(1, 2, 3);
  await until('both lamps are lit', () => stays.last[0] === 255 && goes.last[0] === 255, 20);
});
afterEach(async () => {
  trackers.close();
  await daemon.stop();
  stays.close();
  goes.close();
  both.remove();
});

/** No step beyond what the fade makes of the time that has passed; a busy machine reads packets late. */
function isSteady(packets: readonly Received[]): void {
  packets.forEach(({ slots, atS }, i) => {
    const [before, earlier] = [packets[i - 1], packets[i - 4]];
    if (before === undefined || earlier === undefined) return;
    const step = Math.abs((slots[0] ?? 0) - (before.slots[0] ?? 0));
    expect(step).toBeLessThanOrEqual(((255 - SAFE) / FADE_S) * (atS - earlier.atS) + 4);
  });
}

it('a universe that a reload drops is ended at its safe look (E1.31 6.2.6), the other goes on', async () => {
  const [from, fromOther] = [goes.packets.length, stays.packets.length];
  writeFileSync(both.file, readFileSync('config/minimal.show.yaml'));
  daemon.signal('SIGHUP');
  await until('it is ended', () => goes.packets.some(({ terminated }) => terminated), 20);
  await until('the new show is live', () => daemon.log.some(({ kind }) => kind === 'reloaded'), 20);
  await until('its lamp is lit', () => stays.last[0] === 255, 20);
  const left = goes.packets.slice(from);
  expect(left.filter(({ terminated }) => terminated)).toHaveLength(3);
  const last = left.findLast(({ terminated }) => !terminated);
  expect(last?.slots[0]).toBe(SAFE);
  isSteady(left.filter(({ terminated }) => !terminated));
  const on = stays.packets.slice(fromOther);
  expect(on.some(({ terminated }) => terminated)).toBe(false);
  expect(on.some(({ slots }) => slots[0] === SAFE)).toBe(true);
  isSteady(on);
});

it('a reload that can not be is refused before anything is touched: no stream ends, no lamp moves', async () => {
  const one = readFileSync('config/minimal.show.yaml', 'utf8');
  // RFC 5737: an address that is nobody's.
  writeFileSync(both.file, one.replace('port: 9010', 'port: 9010\n    listen: 192.0.2.1'));
  const from = [goes, stays].map(({ packets }) => packets.length);
  const { enginePid } = daemon;
  daemon.signal('SIGHUP');
  await until('it is refused', () => daemon.log.some(({ kind }) => kind === 'reload-refused'), 20);
  await until('it goes on', () => stays.packets.length > (from[1] ?? 0) + 10);
  for (const [i, { packets }] of [goes, stays].entries()) {
    const since = packets.slice(from[i]);
    expect(since.every(({ slots, terminated }) => slots[0] === 255 && !terminated)).toBe(true);
  }
  expect(daemon.enginePid).toBe(enginePid);
});

/** Engines of the daemon that are alive, by their command lines. */
function engines(pid: number): number {
  return readdirSync('/proc').filter(name => {
    try {
      const ofDaemon = readFileSync(`/proc/${name}/stat`, 'utf8').split(') ')[1]?.split(' ')[1];
      const words = readFileSync(`/proc/${name}/cmdline`, 'utf8').split('\0');
      return Number(ofDaemon) === pid && words.includes('engine');
    } catch {
      return false; // it has ended meanwhile, or is no process
    }
  }).length;
}

it('the engine that runs is ended only when the next one is ready but for its ports', async () => {
  const text = readFileSync(both.file, 'utf8');
  // With the same patch it would go on with the engine that runs.
  const more = 'fixtures:\n  more: { profile: dimmer, universe: 1, address: 99 }\n';
  writeFileSync(both.file, text.replace('fixtures:\n', more));
  const { enginePid } = daemon;
  daemon.signal('SIGHUP');
  let most = 0;
  await until(
    'it is loaded',
    () => {
      most = Math.max(most, engines(daemon.pid));
      return daemon.enginePid !== enginePid;
    },
    20,
  );
  expect(most).toBe(2);
  await until('it is live', () => stays.last[0] === 255, 20);
  expect(engines(daemon.pid)).toBe(1);
});
