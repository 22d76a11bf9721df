import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { spawn } from '../tethered.js';
import { Daemon, lampwright, SacnReceiver, Trackers, until, variantOf } from './support.js';

const STOVE = 0;
let folder: string;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-answers-'));
  show = variantOf('config/minimal.show.yaml', [
    ['trackers: [1]', 'trackers: [1, 2]'],
    ['performers:', 'operator: { port: 9011 }\nspares: [7]\nperformers:'],
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
  rmSync(folder, { recursive: true, force: true });
});

const tell = (...words: string[]) => lampwright(['tell', folder, ...words]);
const status = async () => {
  const answer = JSON.parse((await tell('status', '--json')).stdout) as {
    status: { light: string; performers: { state: string }[]; silentTrackers: object[] };
  };
  return answer.status;
};

it('answers what is so, twice over, and says what it knows of a loss', async () => {
  trackers.place(1, 2, 3);
  trackers.place(2, 2, 3);
  await until('the stove is lit', () => sacn.last[STOVE] === 255, 20);
  const live = await tell('status');
  expect(live.code).toBe(0);
  expect(live.stdout).toMatch(
    /^One lamp: ines is live; engine \d+\ntracking \d+ positions\/s(?:; positions reach the light: median \S+ ms, 99 % within \S+ ms)?; output lamps sending\n$/,
  );

  trackers.silence(2);
  await until('it is told of', () => daemon.log.some(line => line.kind === 'tracker-contact'));
  expect((await tell('status')).stdout).toMatch(/tracker 2 of ines silent since/);
  trackers.silence(1);
  await until('the safe look is out', () => sacn.last[STOVE] === 51);
  expect(await status()).toMatchObject({ light: 'safe look', performers: [{ state: 'lost' }] });
  expect((await tell('status')).stdout).toMatch(
    /THE STAGE IS AT THE SAFE LOOK: nobody is live; ines lost since/,
  );

  expect(await tell('stop', 'everybody')).toMatchObject({
    code: 0,
    stdout: 'Everybody stopped.\n',
  });
  expect(await tell('stop', 'everybody')).toMatchObject({
    code: 0,
    stdout: 'Everybody is already stopped.\n',
  });
  expect(await tell('resume', 'ines')).toMatchObject({
    code: 0,
    stdout: expect.stringMatching(/^ines resumed\./),
  });
  expect(await tell('resume', 'everybody')).toMatchObject({ code: 0 });
  expect(await tell('resume', 'ines')).toMatchObject({
    code: 0,
    stdout: 'ines is not stopped. Not back yet: ines (tracking silent).\n',
  });
  expect(daemon.log.find(line => line.kind === 'stopped')?.by).toMatch(/^control socket \(user /);

  const good = readFileSync(show.file, 'utf8');
  writeFileSync(
    show.file,
    good.replace('zone: stove', 'zone: stoev').replace('universe: 1', 'universe: x'),
  );
  const check = await lampwright(['check', show.file]);
  const refused = await tell('reload');
  expect(refused.code).toBe(1);
  const errors = check.stderr.split('\n').filter(line => /:\d+:\d+/.test(line));
  expect(errors).toHaveLength(2);
  for (const error of errors) expect(refused.stderr).toContain(error);
  expect((await tell('status')).stdout).toMatch(/the show file was refused at the last reload/);
});

it('takes a stop while other connections say nothing, and says that it can not be kept', async () => {
  await until('it listens', () => daemon.log.length > 2);
  const sockets = Array.from({ length: 8 }, () => connect(join(folder, 'control.sock')));
  for (const socket of sockets) socket.on('error', () => undefined);
  await Promise.all(sockets.map(socket => new Promise(done => socket.once('connect', done))));
  // What a full disk does, too: the file can't be written.
  mkdirSync(join(folder, 'operator.json.new'));
  const stopped = await tell('stop', 'everybody');
  for (const socket of sockets) socket.destroy();
  expect(stopped).toMatchObject({
    code: 3,
    stderr: expect.stringMatching(
      /^Everybody stopped\. It holds now, but could not be saved: a restart of the daemon would lose it/,
    ),
  });
  expect((await tell('status')).stdout).toMatch(
    /changes made by people would be lost in a restart/,
  );
  rmSync(join(folder, 'operator.json.new'), { recursive: true });
  await until('it is kept', () => daemon.log.some(line => line.kind === 'state-saved'), 20);
  expect((await tell('stop', 'everybody')).code).toBe(0);
});

it('tells of a highlight that ends with the engine', async () => {
  expect((await tell('highlight', 'stove-glow')).stdout).toMatch(/^stove-glow is highlighted for/);
  await until('it is lit', () => sacn.last[STOVE] === 255);
  const first = daemon.enginePid;
  daemon.signalEngine('SIGKILL');
  await until('another engine runs', () => daemon.enginePid !== first, 20);
  expect(daemon.log.filter(line => line.kind === 'highlight').map(({ msg }) => msg)).toEqual([
    expect.stringMatching(/^stove-glow is highlighted/),
    'stove-glow is no longer highlighted: the engine ended',
  ]);
  const off = () => tell('highlight', 'off');
  await until('it answers', () => daemon.log.some(line => line.to === 'live'), 20);
  expect((await off()).stdout).toBe(
    'No fixture is highlighted: stove-glow was, until the engine ended.\n',
  );
  expect((await off()).stdout).toBe('No fixture is highlighted.\n');
});

it('holds a stop that was asked for while the engine was dead', async () => {
  trackers.place(1, 2, 3);
  await until('the stove is lit', () => sacn.last[STOVE] === 255, 20);
  daemon.signalEngine('SIGSTOP'); // It hears nothing, and is killed for it after a second.
  const stopped = tell('stop', 'ines');
  await until(
    'another runs',
    () => daemon.log.filter(one => one.kind === 'engine-started').length > 1,
    20,
  );
  expect((await stopped).code).toBe(0);
  await until('the stop is told', () => daemon.log.some(line => line.kind === 'stopped'), 20);
  // Long enough to re-arm and return, if anything let it.
  await sleep(4000);
  expect(sacn.last[STOVE]).toBe(51);
  expect((await tell('status')).stdout).toMatch(/ines stopped by .+ since /);
});

it('prints sentences for people, without data behind them', async () => {
  await daemon.stop();
  const child = spawn(process.execPath, ['dist/main.js', 'run', show.file, '--log', 'text']);
  let text = '';
  child.stdout.on('data', (piece: Buffer) => {
    text += piece.toString();
  });
  await until('it runs', () => text.includes('engine started'));
  child.kill('SIGTERM');
  await new Promise(done => child.once('exit', done));
  expect(text).toMatch(/stopping: fading to the safe look/);
  expect(text).not.toMatch(/[{}"]kind/);
});
