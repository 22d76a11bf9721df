import type { ChildProcess } from 'node:child_process';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { spawn } from '../tethered.js';
import { Daemon, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** The npm package `dmxnet` is the desk, by Art-Net; `sacn` reads what leaves. */

const DESK_AT = '127.0.19.1';
const PORT_ADDRESS = 0x0123;

const { file, remove } = variantOf('config/minimal.show.yaml', [
  [
    'fixtures:\n',
    `desk:
  control: { protocol: artnet, universe: ${PORT_ADDRESS}, interface: ${DESK_AT} }
signals: { fader: { slot: [control, 1] }, wide: { slot: [control, 11, 12], gone: 0 } }
orders:
  - { slot: [control, 2], cue: next }
  - { slot: [control, 3], stop: everybody, held: true }
cues:
  one: { mappings: [stove, wide] }
  two: { fade: 0, base: { other: { Dimmer: 80 } } }
fixtures:
  other: { profile: dimmer, universe: 1, address: 101 }
  wide: { profile: dimmer, universe: 1, address: 102 }
`,
  ],
  [
    'mappings:\n  - zone: stove\n',
    'mappings:\n  - { name: wide, by: wide, fixtures: [wide], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }\n  - name: stove\n    master: fader\n    zone: stove\n',
  ],
]);

let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;
let desk: ChildProcess;
const say = (slots: Record<number, number>) => desk.stdin?.write(`${JSON.stringify(slots)}\n`);
const level = (slot: number) => sacn.last[slot - 1] ?? -1;

beforeAll(async () => {
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  trackers.place(1, 2, 3);
  desk = spawn(process.execPath, ['tests/system/artnet-desk.mjs', DESK_AT, String(PORT_ADDRESS)], {
    stdio: ['pipe', 'inherit', 'inherit'],
  });
  daemon = Daemon.run(file);
  await until('the desk is heard', () => daemon.log.some(({ kind }) => kind === 'desk-heard'));
  // It has sent zeros so far.
  say({ 1: 255, 2: 255 });
  await until('the lamp is lit', () => level(1) === 255, 20);
}, 30_000);

afterAll(async () => {
  desk.kill();
  trackers.close();
  await daemon.stop();
  sacn.close();
  remove();
}, 30_000);

it('a fader is a master, and two slots are one signal of 16 bits', async () => {
  say({ 1: 102, 11: 128, 12: 0 });
  await until('the master is at 40 per cent', () => level(1) === 102);
  // 0x8000 of 0xffff.
  await until('the signal', () => level(102) === 128);
});

it('a stop lasts while its slot is up, and says who asked', async () => {
  say({ 3: 255 });
  await until('the safe look', () => level(1) === 51);
  const stopped = daemon.log.find(({ kind }) => kind === 'stopped');
  expect(stopped).toMatchObject({ by: 'desk control', everybody: true });
  say({ 3: 0 });
  await until('the light is back', () => level(1) === 102);
});

it('a cue comes on the rise, and not for a slot that was up when the desk came', async () => {
  expect(daemon.log.some(({ kind }) => kind === 'cue')).toBe(false);
  say({ 2: 0 });
  // A finger is down for longer than a beat: two packets in one are as the last of them.
  await sleep(100);
  say({ 2: 255 });
  await until('the cue', () => level(101) === 204);
  expect(daemon.log.find(({ kind }) => kind === 'cue')).toMatchObject({
    cue: 'two',
    by: 'desk control',
  });
});
