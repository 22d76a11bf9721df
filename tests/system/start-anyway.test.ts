import { createSocket } from 'node:dgram';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { pathToFileURL } from 'node:url';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, lampwright, SacnReceiver, Trackers, until, variantOf } from './support.js';

let folder: string;
let show: ReturnType<typeof variantOf>;
let sacn: SacnReceiver;
let daemon: Daemon;

const start = () => Daemon.run(show.file, {}, ['--state-dir', folder]);
const kinds = () => daemon.log.map(line => line.kind);
const said = (kind: string) => String(daemon.log.find(line => line.kind === kind)?.msg);

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-boot-'));
  show = variantOf('config/minimal.show.yaml', []);
  sacn = await SacnReceiver.open(1);
});
afterEach(async () => {
  await daemon.stop();
  sacn.close();
  show.remove();
  rmSync(folder, { recursive: true });
});

it('a port that is taken at boot: the safe look stays out, without a break, until it is free', async () => {
  const other = createSocket('udp4');
  await new Promise<void>(resolve => other.bind(9010, '127.0.0.1', resolve));
  daemon = start();
  await until('it is said', () => kinds().includes('input-blocked'));
  // By whom, and before the lights and the engine: the first message is the right one.
  expect(said('input-blocked')).toContain(`process ${process.pid} (`);
  expect(kinds().indexOf('engine-ended')).not.toBe(0);
  await until(
    'it has been tried again',
    () => kinds().filter(k => k === 'engine-ended').length > 2,
  );
  expect((await lampwright(['tell', folder, 'status'])).stdout).toMatch(
    /; no engine, input "tracking" can't listen on 127\.0\.0\.1:9010: .*process \d+/,
  );
  other.close();
  const trackers = new Trackers();
  trackers.place(1, 2, 3);
  await until('it is live', () => sacn.last[0] === 255, 20);
  trackers.close();
  // One source, one series of numbers, and no end of a stream.
  expect(sacn.packets.filter(({ terminated }) => terminated)).toEqual([]);
  sacn.packets.forEach(({ sequence }, i) => {
    if (i > 0) expect((sequence - (sacn.packets[i - 1]?.sequence ?? 0) + 256) % 256).toBe(1);
  });
});

it('a lighting interface that is missing at boot is looked for, and the others have their light', async () => {
  const text = readFileSync(show.file, 'utf8');
  writeFileSync(
    show.file,
    text.replace(
      'outputs:',
      'outputs:\n  far: { protocol: artnet, interface: lighting0, to: [10.9.9.9], universes: [1] }',
    ),
  );
  daemon = start();
  await until('the lamp has its safe look', () => sacn.packets.length > 0);
  await until('it is said', () => kinds().includes('interface-lost'));
  expect(said('interface-lost')).toContain(
    'lighting0 is lost: this machine has no such interface; it has lo',
  );
  await until('the engine runs', () => daemon.enginePid > 0);
});

it('a restart over a broken file runs the show that was accepted last, and says so until it is fixed', async () => {
  daemon = start();
  await until('the engine runs', () => daemon.enginePid > 0);
  const good = readFileSync(show.file, 'utf8');
  writeFileSync(show.file, good.replace('zone: stove', 'zone: stoev'));
  daemon.signal('SIGHUP');
  await until('it is refused', () => kinds().includes('reload-refused'));

  for (const breaks of [() => undefined, () => rmSync(show.file)]) {
    breaks();
    daemon.signal('SIGKILL');
    await daemon.exited;
    const packets = sacn.packets.length;
    daemon = start();
    await until('it sends', () => sacn.packets.length > packets);
    await until('it says so', () => kinds().includes('show-stale'));
    await until('the engine runs', () => daemon.enginePid > 0);
    expect((await lampwright(['tell', folder, 'status'])).stdout).toContain(
      "the show file can't be used, and the show that was accepted last runs",
    );
  }
  expect(said('show-stale')).toContain('there is no such file');

  // A valid file wins.
  writeFileSync(show.file, good.replace('One lamp', 'Mended'));
  daemon.signal('SIGHUP');
  await until('it is loaded', () => kinds().includes('reloaded'), 20);
  expect((await lampwright(['tell', folder, 'status'])).stdout).not.toContain('accepted last');
});

it('a restart over a file that a reload refused runs the show that was accepted last, with all its light', async () => {
  daemon = start();
  await until('the engine runs', () => daemon.enginePid > 0);
  const good = readFileSync(show.file, 'utf8');
  // Valid, but of another machine.
  const bad = good.replace(/interface: \S+?(?=[,\s])/, 'interface: lighting9');
  expect(bad).not.toBe(good);
  writeFileSync(show.file, bad);
  const refused = await lampwright(['tell', folder, 'reload']);
  expect(refused.stdout + refused.stderr).toContain('Not loaded');

  for (let n = 0; n < 2; n++) {
    await until('that is on the disk', () =>
      readFileSync(join(folder, 'accepted-show.json'), 'utf8').includes('lighting9'),
    );
    daemon.signal('SIGKILL');
    await daemon.exited;
    const packets = sacn.packets.length;
    daemon = start();
    await until('it sends', () => sacn.packets.length > packets + 3);
    expect(sacn.packets.some(({ terminated }) => terminated)).toBe(false);
    await until('it says so', () => kinds().includes('show-stale'));
    expect(said('show-stale')).toContain('the last reload refused it: ');
    expect(said('show-stale')).toContain('lighting9');
    await until('the engine runs', () => daemon.enginePid > 0);
  }

  // Another text is tried.
  writeFileSync(show.file, `${good}# fixed\n`);
  daemon.signal('SIGKILL');
  await daemon.exited;
  daemon = start();
  await until('the engine runs', () => daemon.enginePid > 0);
  expect(kinds()).not.toContain('show-stale');
});

it('a first start with a broken file ends with the code that is not restarted', async () => {
  const text = readFileSync(show.file, 'utf8');
  writeFileSync(show.file, text.replace('zone: stove', 'zone: stoev'));
  daemon = start();
  expect(await daemon.exited).toBe(1);
  await sleep(0);
  expect(sacn.packets).toEqual([]);
});

it.each([
  ['EMFILE', 'show', 'too many files are open'],
  ['EIO', 'show', 'the disk reports a fault'],
  ['ENOMEM', 'profile', 'the machine has no memory left'],
])(
  'a file that can not be read for %s (of a %s) is tried again: no packet, and a code that the service is started again for',
  async (code, kind, why) => {
    const fault = join(folder, 'fault.mjs');
    writeFileSync(
      fault,
      `import fs from 'node:fs';
import { syncBuiltinESMExports } from 'node:module';
const { openSync } = fs;
fs.openSync = (path, ...rest) => {
  if (String(path).endsWith('.${kind}.yaml')) throw Object.assign(new Error('${code}'), { code: '${code}' });
  return openSync(path, ...rest);
};
syncBuiltinESMExports();`,
    );
    const file = kind === 'show' ? show.file : 'config/rehearsal-room.show.yaml';
    daemon = Daemon.run(file, { NODE_OPTIONS: `--import ${pathToFileURL(fault)}` });
    expect(await daemon.exited).toBe(3);
    expect(daemon.stderr).toContain(`can't be read: ${why}. [file-unavailable]`);
    expect(sacn.packets).toEqual([]);
  },
);
