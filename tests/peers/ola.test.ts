import { type ChildProcess, execFileSync } from 'node:child_process';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Ola } from '../../campaign/ola.mjs';
import { checkJson, Daemon, SALT_LANTERN, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/**
 * OLA (Debian's `ola`) is the gateway: it decodes sACN and Art-Net, and none of it is ours. Two hosts of the
 * test's own: lwoa runs the daemon, lwob has the tracking server and OLA. Needs root, iproute2, setpriv.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = { lwoa: '10.80.0.1', lwob: '10.80.0.2' } as const;

const removeHosts = () => {
  for (const name of Object.keys(HOSTS)) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

let feed: ChildProcess | undefined;
let daemon: Daemon | undefined;
let ola: Ola | undefined;
let show: ReturnType<typeof variantOf> | undefined;

beforeEach(() => {
  removeHosts();
  for (const name of Object.keys(HOSTS)) ip('netns', 'add', name);
  ip('link', 'add', 'lw0', 'netns', 'lwoa', 'type', 'veth', 'peer', 'name', 'lw0', 'netns', 'lwob');
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
});

afterEach(async () => {
  feed?.kill();
  await daemon?.stop();
  await ola?.close();
  removeHosts();
  show?.remove();
});

it('receives the levels of both protocols, and the safe look once the feed has stopped', async () => {
  show = variantOf(SALT_LANTERN, [
    ['listen: 127.0.0.1', 'listen: 0.0.0.0'],
    ['interface: 127.0.0.1', 'interface: lw0'],
    ['to: [127.0.0.1] # in a theatre', 'to: multicast # in a theatre'],
    ['to: [127.0.0.1]\n', `to: [${HOSTS.lwob}]\n`],
  ]);
  const safeLook = (await checkJson(show.file)).show?.safeLook;
  ola = await Ola.open('lwob', { sacn: 1, artnet: 2 });
  const running = Daemon.inNamespace('lwoa', show.file);
  daemon = running;
  await until('the engine runs', () => running.enginePid > 0);
  const command = ['netns', 'exec', 'lwob', process.execPath, 'campaign/feed.mjs', HOSTS.lwoa];
  feed = spawn('ip', command, { stdio: ['pipe', 'inherit', 'inherit'] });
  // On the stove's place. OLA's recording is read when it has ended, so that wall time is waited for: 1 s until a
  // performer is trusted and 1.5 s of fade; then 0.5 s of silence, a fade of 2 s and a move of 1 s.
  feed.stdin?.write('{ "place": [1, 2, 6] }\n');
  await sleep(5000);
  feed.stdin?.write('{ "silence": 1 }\n');
  await sleep(5000);
  const frames = await ola.close();

  const [sacn, artnet] = (['sacn', 'artnet'] as const).map(one =>
    frames.filter(({ protocol }) => protocol === one).map(({ slots }) => slots),
  ) as [Uint8Array[], Uint8Array[]];
  // The stove: its glow at 85, its head at 75 per cent.
  expect(sacn.some(slots => slots[0] === 217)).toBe(true);
  expect(artnet.some(slots => slots[4] === 191)).toBe(true);
  expect([...(sacn[0] ?? [])]).toEqual(safeLook?.['1']);
  expect([...(sacn.at(-1) ?? [])]).toEqual(safeLook?.['1']);
  expect([...(artnet.at(-1) ?? [])]).toEqual(safeLook?.['2']);
});
