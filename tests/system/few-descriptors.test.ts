import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { get } from 'node:http';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { ask } from '../../src/daemon/asking/ask.js';
import { Daemon, SALT_LANTERN, SacnReceiver, until, variantOf } from './support.js';

/** The daemon has some 36 itself with this show, and its panel some 21. */
const LIMIT = 40;
const AT = 'http://127.0.0.1:7240';

it('with few descriptors pages take none that a Stop needs, and a reload says what is lacking', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-few-'));
  const show = variantOf(SALT_LANTERN, []);
  // prlimit (util-linux) becomes the daemon; Node raises the soft limit to the hard one, and these are one.
  const daemon = new Daemon('prlimit', [
    ...[`--nofile=${LIMIT}`, process.execPath, 'dist/main.js', 'run', show.file],
    ...['--log', 'json', '--state-dir', folder, '--panel', '127.0.0.1:7240'],
  ]);
  try {
    const ofPanel = (state: string) => daemon.log.find(line => line.state === state)?.msg;
    await until('the panel listens', () => ofPanel('listening') !== undefined, 40);
    expect(ofPanel('warning')).toMatch(/ at most can look at a time.* LimitNOFILE=1024/);
    const streams = Array.from({ length: 24 }, (_, i) =>
      get(`${AT}/api/stream?page=${i}`, { agent: false }, response => response.resume()).on(
        'error',
        () => undefined,
      ),
    );
    const answer = await fetch(`${AT}/api/act`, {
      method: 'POST',
      headers: {
        origin: AT,
        'content-type': 'application/json',
        authorization: `Bearer ${readFileSync(join(folder, 'panel-token'), 'utf8').trim()}`,
      },
      body: JSON.stringify({ words: ['stop', 'everybody'] }),
    });
    expect(await answer.json()).toMatchObject({ outcome: 'done' });
    for (const stream of streams) stream.destroy();
    writeFileSync(show.file, `${readFileSync(show.file, 'utf8')}\n# changed\n`);
    const reload = await ask(folder, ['reload']);
    expect(reload.text).toMatch(/too many files are open.*not to blame.*no-descriptor-free/s);
    expect((await ask(folder, ['status'])).text).toContain(
      'not read at the last reload: too many files are open',
    );
  } finally {
    await daemon.stop();
    show.remove();
    rmSync(folder, { recursive: true });
  }
}, 90_000);

it('with too few for an engine the safe look is out all the same, and the log says what is lacking', async () => {
  const sacn = await SacnReceiver.open(1);
  // Some twenty it takes to send; a process beside it takes four or five more.
  const daemon = new Daemon('prlimit', [
    ...['--nofile=24', process.execPath, 'dist/main.js', 'run', 'config/minimal.show.yaml'],
    ...['--log', 'json', '--panel', 'off'],
  ]);
  try {
    const ended = () => daemon.log.find(line => line.kind === 'engine-ended');
    await until('no engine can be started', () => ended() !== undefined, 40);
    expect(ended()).toMatchObject({
      how: 'did not start',
      reason: expect.stringContaining('EMFILE: too many files are open in this process'),
    });
    // Unchanged levels are sent every 0.8 to 1 s (E1.31 6.6.2).
    await until('the safe look is out', () => sacn.packets.length > 5);
    // 20 per cent of 255.
    expect(new Set(sacn.packets.map(({ slots }) => slots[0]))).toEqual(new Set([51]));
  } finally {
    await daemon.stop();
    sacn.close();
  }
}, 90_000);

it('those who have their answer and do not hang up, and those who watch, take none that a new engine needs', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-few-'));
  const daemon = Daemon.run(SALT_LANTERN, {}, ['--state-dir', folder]);
  const sockets: Socket[] = [];
  const hold = (line: string, count: number) => {
    for (let i = 0; i < count; i++) {
      const socket = connect({ path: join(folder, 'control.sock'), allowHalfOpen: true });
      sockets.push(socket.on('error', () => undefined).resume());
      socket.write(line);
    }
  };
  try {
    const begun = () => daemon.log.filter(line => line.kind === 'engine-started').length;
    await until('an engine runs', () => begun() === 1, 40);
    // From now on it may have so many more: prlimit is of util-linux.
    const limit = readdirSync(`/proc/${daemon.pid}/fd`).length + 20;
    execFileSync('prlimit', ['--pid', `${daemon.pid}`, `--nofile=${limit}:${limit}`]);
    hold('["watch","1"]\n', 16);
    await until('all watch', () => sockets.every(({ bytesRead }) => bytesRead > 0));
    hold('["status"]\n', 70);
    daemon.signalEngine('SIGKILL');
    // They come again and again.
    const again = setInterval(() => hold('["status"]\n', 10), 50);
    await until('the next one runs', () => begun() === 2, 15).finally(() => clearInterval(again));
    expect((await ask(folder, ['stop', 'everybody'])).outcome).toBe('done');
    expect(daemon.log.filter(({ kind }) => kind === 'engine-ended')).toHaveLength(1);
  } finally {
    for (const socket of sockets) socket.destroy();
    await daemon.stop();
    rmSync(folder, { recursive: true });
  }
}, 90_000);
