import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import {
  Daemon,
  lampwright,
  longestGapS,
  SacnReceiver,
  Trackers,
  until,
  variantOf,
} from './support.js';

/** The stove of the example show with one lamp, from 0. */
const STOVE = 0;
let folder: string;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-state-'));
  show = variantOf('config/minimal.show.yaml', [
    // A busy machine alone is late by a quarter of a second.
    ['performers:', 'spares: [7]\nwatchdog: { engineSilent: { after: 2 } }\nperformers:'],
  ]);
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  daemon = Daemon.run(show.file, {}, ['--state-dir', folder]);
  await until('the engine runs', () => daemon.enginePid > 0);
});
afterEach(async () => {
  trackers.close();
  await daemon.stop();
  sacn.close();
  show.remove();
  rmSync(folder, { recursive: true });
});

const isHalf = () => [127, 128].includes(sacn.last[STOVE] ?? 0);

const tell = (...words: string[]) => lampwright(['tell', folder, ...words]);

/** Lets the engine take its first tick: it hears nobody before. */
async function operate(...words: string[]) {
  for (let i = 0; i < 20; i++) {
    const answer = await tell(...words);
    if (!answer.stderr.includes('starting')) return answer;
    await sleep(200);
  }
  throw new Error('the engine does not start');
}

it('gives a spare tracker to a performer, and remembers it through all that can end', async () => {
  trackers.place(7, 2, 3); // in the stove's zone, and nobody's
  expect((await operate('assign', '7', 'gull')).code).toBe(1);
  const answer = await operate('assign', '7', 'ines');
  expect(answer).toMatchObject({
    code: 0,
    stdout: expect.stringMatching(/Tracker 7 given to ines/),
  });
  await until('the spare lights the stove', () => sacn.last[STOVE] === 255);

  daemon.signalEngine('SIGKILL');
  await until('the lights fade', () => (sacn.last[STOVE] ?? 255) < 60);
  await until('the new engine knows the spare', () => sacn.last[STOVE] === 255, 20);

  daemon.signal('SIGKILL');
  await daemon.exited;
  daemon = Daemon.run(show.file, {}, ['--state-dir', folder]);
  await until('it is told of', () => daemon.log.some(line => line.kind === 'state-restored'));
  // What was heard last may still be of the one before.
  await until('its safe look is out', () => (sacn.last[STOVE] ?? 255) < 60);
  await until('the new daemon knows the spare', () => sacn.last[STOVE] === 255, 20);
  expect((await tell('status')).stdout).toMatch(/^One lamp: ines is live; engine \d+\n/);

  expect((await operate('unassign', '7')).code).toBe(0);
  await until('it is kept', () =>
    readFileSync(join(folder, 'operator.json'), 'utf8').includes('"trackers": {}'),
  );
});

it('reloads a show with another patch by way of its safe look, and refuses a bad one', async () => {
  trackers.place(1, 2, 3);
  await until('the stove is lit', () => sacn.last[STOVE] === 255, 20);
  const { enginePid } = daemon;
  const good = readFileSync(show.file, 'utf8');

  writeFileSync(show.file, good.replace('zone: stove', 'zone: stoev'));
  daemon.signal('SIGHUP');
  await until('it is refused', () => daemon.log.some(line => line.kind === 'reload-refused'));
  expect(String(daemon.log.findLast(line => line.kind === 'reload-refused')?.msg)).toMatch(
    /variant\.show\.yaml:\d+:\d+.*stoev/s,
  );
  await sleep(500);
  expect(sacn.last[STOVE]).toBe(255);
  expect(daemon.enginePid).toBe(enginePid);

  writeFileSync(
    show.file,
    good
      .replace('set: { Dimmer: 100 }', 'set: { Dimmer: 50 }')
      .replace('Dimmer: 20', 'Dimmer: 10')
      .replace('fixtures:\n', 'fixtures:\n  more: { profile: dimmer, universe: 1, address: 99 }\n'),
  );
  const from = sacn.packets.length;
  const reloaded = await tell('reload');
  expect(reloaded).toMatchObject({
    code: 0,
    stdout: expect.stringMatching(/^The show is reloaded/),
  });
  // The engine may take over within a packet or two of it.
  await until('its safe look is out', () =>
    sacn.packets.slice(from).some(({ slots }) => slots[STOVE] === 26),
  );
  await until('it is live', () => isHalf(), 20);
  const packets = sacn.packets.slice(from);
  packets.forEach((packet, i) => {
    const [before, earlier] = [packets[i - 1], packets[i - 4]];
    if (before === undefined || earlier === undefined) return;
    const step = Math.abs((packet.slots[STOVE] ?? 0) - (before.slots[STOVE] ?? 0));
    // A fade of 2 s from 255 to 26; over four gaps, as a busy machine reads packets late. A stage of the
    // fade may end within a beat of 25 ms: 3 more, and 1 for rounding.
    expect(step).toBeLessThanOrEqual(((255 - 26) / 2) * (packet.atS - earlier.atS) + 4);
  });
  expect(longestGapS(sacn.packets.slice(from))).toBeLessThan(1.1);
  // One stream that goes on: no receiver has a reason to drop a packet (E1.31 6.7.2).
  sacn.packets.forEach(({ sequence }, i) => {
    if (i > 0) expect((sequence - (sacn.packets[i - 1]?.sequence ?? 0) + 256) % 256).toBe(1);
  });

  // The same again: the light stays as it is.
  const lit = sacn.packets.length;
  expect(await tell('reload')).toMatchObject({
    code: 0,
    stdout: expect.stringMatching(/^The show already runs as its file says/),
  });
  await sleep(1000);
  for (const { slots } of sacn.packets.slice(lit)) {
    expect(Math.abs((slots[STOVE] ?? 0) - 128)).toBeLessThan(2);
  }

  // A port that somebody else has: the new engine can't run, and the old show comes back.
  writeFileSync(show.file, good.replace('port: 9010', 'port: 5568'));
  daemon.signal('SIGHUP');
  await until(
    'it is refused',
    () => daemon.log.filter(line => line.kind === 'reload-refused').length === 2,
    20,
  );
  await until('the show before is back', () => isHalf(), 20);
});
