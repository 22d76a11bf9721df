import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Daemon, lampwright, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/** Two hosts of the test's own on one cable, of which the standby sends only Art-Net, and so nothing while it waits. */
const HOSTS = { lwaa: '10.83.0.1', lwab: '10.83.0.2' } as const;
type Host = keyof typeof HOSTS;
const [MAIN, STANDBY] = Object.values(HOSTS);

const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });

/** Reports a tracker to one of them, walking: a place that repeats to the last bit is a feed that hangs. */
const feedTo = (address: string) => `
const socket = require('node:dgram').createSocket('udp4');
const text = s => Buffer.from(s + '\\0'.repeat(4 - s.length % 4));
const float = v => { const b = Buffer.alloc(4); b.writeFloatBE(v); return b; };
setInterval(() => {
  const x = 2 + 0.01 * Math.sin(performance.now() / 300);
  const bytes = Buffer.concat([text('/tracker/1/position'), text(',fff'), float(x), float(3), float(1.4)]);
  socket.send(bytes, 9010, '${address}');
}, 25);`;

let folder: string;
let show: ReturnType<typeof variantOf>;
const daemons: Daemon[] = [];
const feeds = new Map<Host, ReturnType<typeof spawn>>();

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-pair-artnet-'));
  for (const name of Object.keys(HOSTS)) ip('netns', 'add', name);
  ip(...'link add lw0 netns lwaa type veth peer name lw0 netns lwab'.split(' '));
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  const both = `[${MAIN}, ${STANDBY}]`;
  show = variantOf('config/minimal.show.yaml', [
    ['port: 9010', 'port: 9010\n    listen: 0.0.0.0'],
    [
      'protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1]',
      `protocol: artnet, interface: lw0, to: ${both}`,
    ],
    [
      'outputs:',
      `operator: { port: 9011, listen: 0.0.0.0, allow: ${both}, standby: ${STANDBY}, main: ${MAIN} }\noutputs:`,
    ],
  ]);
});
afterAll(async () => {
  for (const feed of feeds.values()) feed.kill();
  for (const daemon of daemons) await daemon.stop().catch(() => undefined);
  for (const name of Object.keys(HOSTS)) ip('netns', 'del', name);
  show.remove();
  rmSync(folder, { recursive: true });
});

function start(host: Host, ...options: string[]): Daemon {
  const daemon = Daemon.inNamespace(host, show.file, [
    ...options,
    ...['--state-dir', join(folder, host)],
  ]);
  daemons.push(daemon);
  return daemon;
}

function feed(host: Host): void {
  const script = feedTo(HOSTS[host]);
  feeds.set(host, spawn('ip', ['netns', 'exec', host, process.execPath, '-e', script]));
}

/** What is wrong with the pair, as the status of a machine has it. */
async function troubles(host: Host): Promise<string[]> {
  const { stdout } = await lampwright(['tell', join(folder, host), 'status', '--json']);
  const all: { what: string }[] = JSON.parse(stdout).status.troubles;
  return all.map(({ what }) => what).filter(what => /standby|main machine/.test(what));
}

const said = ({ log }: Daemon, kind: string) => log.filter(line => line.kind === kind);

it('a main machine of Art-Net alone misses a standby that was never there, or dies, and none that was stopped', async () => {
  feed('lwaa');
  const main = start('lwaa');
  await until('the standby is missed', () => said(main, 'other-show').length > 0, 40);
  expect(said(main, 'other-show').at(-1)).toMatchObject({ never: true, level: 40 });
  expect(await troubles('lwaa')).toEqual([
    'the standby has not said that it is there: unless it runs, nobody takes over if this machine dies',
  ]);
  feed('lwab');
  const standby = start('lwab', '--standby');
  await until('it is there', () => said(main, 'other-show').at(-1)?.shows === 'same', 30);
  expect(await troubles('lwaa')).toEqual([]);
  process.kill(standby.pid, 'SIGKILL');
  await until('it is missed', () => said(main, 'other-show').at(-1)?.shows === 'unknown', 30);
  expect(await troubles('lwaa')).toEqual([
    `the standby at ${STANDBY} no longer says that it is there: unless it runs, nobody takes over if this machine dies`,
  ]);
  const next = start('lwab', '--standby');
  await until('it is there again', () => said(main, 'other-show').at(-1)?.shows === 'same', 30);
  await next.stop();
  await until('it is gone', () => said(main, 'other-show').at(-1)?.shows === 'unknown', 30);
  expect(said(main, 'other-show').at(-1)).toMatchObject({ ended: true, level: 30 });
  expect(await troubles('lwaa')).toEqual([]);
}, 150_000);

it('each says that the other one hears no tracking while it hears some itself, and nothing when neither does', async () => {
  const [main] = daemons as [Daemon];
  const standby = start('lwab', '--standby');
  await until('it is there', () => said(main, 'other-show').at(-1)?.shows === 'same', 30);
  feeds.get('lwab')?.kill();
  await until(
    'the standby is deaf',
    () => said(main, 'other-tracking').at(-1)?.silent === true,
    30,
  );
  expect(await troubles('lwaa')).toEqual([
    `the standby at ${STANDBY} hears no tracking, and this machine does: if it takes over, its light is at the safe look`,
  ]);
  feed('lwab');
  await until('both hear', () => said(main, 'other-tracking').at(-1)?.silent === false, 30);
  feeds.get('lwaa')?.kill();
  const ofMain = () => said(standby, 'other-tracking').at(-1)?.silent;
  await until('the main machine is deaf', () => ofMain() === true, 30);
  expect(await troubles('lwab')).toEqual([
    `the main machine at ${MAIN} hears no tracking, and this standby does: what receivers take is the main machine's safe look`,
  ]);
  feeds.get('lwab')?.kill();
  await until('neither hears', () => ofMain() === false, 30);
  expect(await troubles('lwab')).toEqual([]);
}, 150_000);
