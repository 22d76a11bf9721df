import { type ChildProcess, execFileSync } from 'node:child_process';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Ola } from '../../campaign/ola.mjs';
import { Daemon, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';
import { Capture } from './capture.js';

/**
 * Hosts of the test's own on one switch: lwna runs the daemon, lwnb OLA (Debian's `ola`), lwnc and lwnd a node each
 * by npm `dmxnet` (MIT). The show lists none of them. Needs root, iproute2, setpriv, tshark.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = {
  lwna: '10.82.0.1',
  lwnb: '10.82.0.2',
  lwnc: '10.82.0.3',
  lwnd: '10.82.0.4',
} as const;
const NOBODY = '10.82.0.9';
const SWITCH = 'lwns';
/** Safe look of the minimal show: 20 per cent. */
const SAFE = 51;

/** A node with Port-Address 1; prints the first slot of what it gets. */
const NODE = `
const { dmxnet } = require('dmxnet');
const node = new dmxnet({ log: { level: 'error' }, hosts: [process.argv[1]], sName: process.argv[1] });
node.newReceiver({ net: 0, subnet: 0, universe: 1 }).on('data', levels => console.log(levels[0]));`;

const children: ChildProcess[] = [];
let daemon: Daemon | undefined;
let ola: Ola | undefined;
let show: ReturnType<typeof variantOf> | undefined;
let capture: Capture | undefined;

const removeHosts = () => {
  for (const name of [...Object.keys(HOSTS), SWITCH]) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

beforeEach(() => {
  removeHosts();
  ip('netns', 'add', SWITCH);
  ip('-n', SWITCH, 'link', 'add', 'br0', 'type', 'bridge');
  ip('-n', SWITCH, 'link', 'set', 'br0', 'up');
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('netns', 'add', name);
    ip('link', 'add', 'lw0', 'netns', name, 'type', 'veth', 'peer', 'name', name, 'netns', SWITCH);
    ip('-n', SWITCH, 'link', 'set', name, 'master', 'br0', 'up');
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
});

afterEach(async () => {
  for (const child of children.splice(0)) child.kill('SIGKILL');
  await daemon?.stop();
  await ola?.close();
  removeHosts();
  show?.remove();
  capture?.remove();
});

function startNode(host: keyof typeof HOSTS) {
  const command = ['netns', 'exec', host, process.execPath, '-e', NODE, HOSTS[host]];
  const child = spawn('ip', command, { stdio: ['ignore', 'pipe', 'inherit'] });
  children.push(child);
  const node = { child, levels: [] as string[] };
  child.stdout?.on('data', (text: Buffer) =>
    node.levels.push(...text.toString().trim().split('\n')),
  );
  return node;
}

it('levels go to nodes that the show does not list, two on one Port-Address, and to another in place of one that died', async () => {
  show = variantOf('config/minimal.show.yaml', [
    [
      'protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1]',
      `protocol: artnet, interface: lw0, to: [${NOBODY}]`,
    ],
  ]);
  ola = await Ola.open('lwnb', { artnet: 1 });
  const first = startNode('lwnc');
  capture = await Capture.open('udp port 6454', { host: 'lwna', interface: 'lw0' });
  const running = Daemon.inNamespace('lwna', show.file);
  daemon = running;
  await until('the first node has levels', () => first.levels.includes(String(SAFE)), 10);
  const found = (address: string) =>
    running.log.some(line => line.kind === 'node-found' && line.ip === address);
  await until('OLA is found', () => found(HOSTS.lwnb), 10);

  first.child.kill('SIGKILL');
  const swappedS = Date.now() / 1000;
  const second = startNode('lwnd');
  await until('the other node has levels', () => second.levels.includes(String(SAFE)), 10);
  const isGone = () => running.log.some(line => line.kind === 'node-gone');
  await until('the first is told of as gone', isGone, 10);
  expect(running.log.filter(line => line.kind === 'node-gone').map(line => line.ip)).toEqual([
    HOSTS.lwnc,
  ]);
  const atGoneS = Date.now() / 1000;
  // Levels that do not change go out every 0.9 s: two of them.
  const soFar = second.levels.length;
  await until('levels go on', () => second.levels.length >= soFar + 2, 10);
  expect(await running.stop()).toBe(0);
  const frames = await ola.close();
  await capture.end();

  expect(frames.length).toBeGreaterThan(2);
  expect(new Set(frames.map(({ slots }) => slots[0]))).toEqual(new Set([SAFE]));

  const names = ['frame.time_epoch', 'ip.dst', 'udp.srcport'];
  const dmx = capture.fields('artnet.header.opcode == 0x5000', names);
  const sentTo = (address: string) =>
    dmx.filter(([, to]) => to === address).map(([at]) => Number(at));
  expect([...new Set(dmx.map(([, to]) => to))].sort()).toEqual([
    HOSTS.lwnb,
    HOSTS.lwnc,
    HOSTS.lwnd,
  ]);
  // Art-Net 4: from the port of Art-Net; 3 s after a poll without an answer a node is gone.
  expect(new Set(dmx.map(([, , port]) => port))).toEqual(new Set(['6454']));
  const heard = capture.fields(`artnet.header.opcode == 0x2100 && ip.src == ${HOSTS.lwnc}`, names);
  const lastHeardS = Number(heard.at(-1)?.[0]);
  const lastSentS = sentTo(HOSTS.lwnc).at(-1) ?? 0;
  expect(lastSentS).toBeGreaterThan(lastHeardS);
  expect(lastSentS - lastHeardS).toBeLessThan(2.5 + 3 + 0.5);
  expect(sentTo(HOSTS.lwnd).at(-1)).toBeGreaterThan(atGoneS);
  // A poll every 2.5 s, and up to 1 s for the answer; the rest is the start of the node's process.
  const tookS = (sentTo(HOSTS.lwnd)[0] ?? 0) - swappedS;
  expect(tookS).toBeLessThan(2.5 + 1 + 0.5);
});
