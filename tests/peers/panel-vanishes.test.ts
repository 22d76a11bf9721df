import { type ChildProcess, execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Daemon, lampwright, SALT_LANTERN, until } from '../system/support.js';
import { spawn } from '../tethered.js';

/** Two hosts of the test's own: lpa runs the daemon, lpb is a phone that loses its network. Needs root and iproute2. */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe', encoding: 'utf8' });
const URL_ = 'http://10.78.0.1:7240';
/** 10 s without an acknowledgement, after what was sent first was sent again, and a look a second; more on a machine that is busy. */
const GONE_WITHIN_S = 20;

let folder: string;
let daemon: Daemon;
let token: string;
let phone: ChildProcess;

const removeHosts = () => {
  for (const name of ['lpa', 'lpb']) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

beforeAll(async () => {
  removeHosts();
  for (const name of ['lpa', 'lpb']) ip('netns', 'add', name);
  ip('link', 'add', 'lpa0', 'netns', 'lpa', 'type', 'veth', 'peer', 'name', 'lpb0', 'netns', 'lpb');
  for (const [name, address] of [
    ['lpa', '10.78.0.1/24'],
    ['lpb', '10.78.0.2/24'],
  ] as const) {
    ip('-n', name, 'addr', 'add', address, 'dev', `${name}0`);
    ip('-n', name, 'link', 'set', `${name}0`, 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  folder = mkdtempSync(join(tmpdir(), 'lampwright-vanishes-'));
  daemon = Daemon.inNamespace('lpa', SALT_LANTERN, [
    '--state-dir',
    folder,
    '--panel',
    '10.78.0.1:7240',
  ]);
  await until('the panel listens', () => daemon.log.some(({ kind }) => kind === 'panel'), 40);
  const { stdout } = await lampwright(['panel', folder, '--json']);
  token = JSON.parse(stdout).token;
}, 60_000);

afterAll(async () => {
  phone?.kill();
  await daemon?.stop();
  removeHosts();
  rmSync(folder, { recursive: true });
});

/** Asks by the token, and prints what comes as it comes. */
const ASKS = `
const [url, token] = process.argv.slice(1);
fetch(url, { headers: { authorization: 'Bearer ' + token } }).then(async ({ body }) => {
  for await (const piece of body) process.stdout.write(piece);
});`;
const asks = (host: string, path: string) =>
  ['netns', 'exec', host, process.execPath, '-e', ASKS, `${URL_}${path}`, token] as const;

/** As the show machine itself asks. */
function metric(name: string): number {
  const line = ip(...asks('lpa', '/metrics'))
    .split('\n')
    .find(one => one.startsWith(name));
  return Number(line?.split(' ').at(-1));
}

it('gives the place of a phone that left without a word back within 20 s, and counts it', async () => {
  phone = spawn('ip', asks('lpb', '/api/stream?rate=5'), { stdio: 'ignore' });
  await until('it looks', () => metric('lampwright_panel_streams') === 1, 20);
  // One that reads keeps its place.
  await sleep(12_000);
  expect(metric('lampwright_panel_streams')).toBe(1);
  ip('-n', 'lpb', 'link', 'set', 'lpb0', 'down');
  const leftMs = performance.now();
  while (metric('lampwright_panel_streams') > 0) {
    expect((performance.now() - leftMs) / 1e3).toBeLessThan(GONE_WITHIN_S);
    await sleep(500);
  }
  expect(metric('lampwright_panel_refused_total{reason="gone"}')).toBe(1);
}, 90_000);
