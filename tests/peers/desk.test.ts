import { type ChildProcess, execFileSync } from 'node:child_process';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Ola } from '../../campaign/ola.mjs';
import { Daemon, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/**
 * OLA (Debian's `ola`) is the desk, by sACN and by Art-Net, on a host of its own; what lampwright makes of it is read by npm `dmxnet`
 * (MIT) on a third. OLA sends Art-Net to nodes that answer its polls with the Port-Address. Needs root, iproute2, setpriv.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = { lwda: '10.86.0.1', lwdb: '10.86.0.2', lwdc: '10.86.0.3' } as const;
const SWITCH = 'lwds';
/** Universes of OLA, and Port-Address 3 of Art-Net. */
const DESK = { sacn: 21, artnet: 3 };
/** From 1: no fixture of the show has it. */
const FREE = 100;

const NODE = `
const { dmxnet } = require('dmxnet');
const node = new dmxnet({ log: { level: 'error' }, hosts: [process.argv[1]] });
for (const universe of [1, 2])
  node.newReceiver({ net: 0, subnet: 0, universe }).on('data', levels => console.log(universe + ' ' + levels[${FREE - 1}]));`;

const children: ChildProcess[] = [];
let daemon: Daemon;
let ola: Ola;
let show: ReturnType<typeof variantOf>;
let said = '';

const removeHosts = () => {
  for (const name of [...Object.keys(HOSTS), SWITCH]) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

function on(host: keyof typeof HOSTS, ...command: readonly string[]): ChildProcess {
  const child = spawn('ip', ['netns', 'exec', host, ...command], {
    stdio: ['ignore', 'pipe', 'ignore'],
  });
  children.push(child);
  return child;
}

beforeAll(async () => {
  removeHosts();
  ip('netns', 'add', SWITCH);
  ip('-n', SWITCH, 'link', 'add', 'br0', 'type', 'bridge', 'mcast_snooping', '0');
  ip('-n', SWITCH, 'link', 'set', 'br0', 'up');
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('netns', 'add', name);
    ip('link', 'add', 'lw0', 'netns', name, 'type', 'veth', 'peer', 'name', name, 'netns', SWITCH);
    ip('-n', SWITCH, 'link', 'set', name, 'master', 'br0', 'up');
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  show = variantOf('config/minimal.show.yaml', [
    [
      'protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1]',
      `protocol: artnet, interface: lw0, to: [${HOSTS.lwdc}], universes: [1, 2]`,
    ],
    [
      'outputs:',
      `desk:
  lit: { protocol: sacn, universe: ${DESK.sacn}, interface: lw0, ground: 1 }
  stage: { protocol: artnet, universe: ${DESK.artnet}, interface: lw0, ground: 2 }
outputs:`,
    ],
  ]);
  on('lwdc', process.execPath, '-e', NODE, HOSTS.lwdc).stdout?.on('data', text => {
    said += String(text);
  });
  ola = await Ola.open('lwdb', DESK, true);
  daemon = Daemon.inNamespace('lwda', show.file);
}, 30_000);

afterAll(async () => {
  for (const child of children.splice(0)) child.kill('SIGKILL');
  await daemon.stop();
  await ola.close();
  removeHosts();
  show.remove();
}, 30_000);

/** Again and again: OLA sends what it is told, and to those whom it knows then; it polls each ten seconds. */
function set(universe: number, level: number): void {
  const levels = Array.from({ length: FREE }, () => level).join(',');
  const once = `ola_set_dmx -u ${universe} -d ${levels}`;
  on('lwdb', 'sh', '-c', `while ${once}; do sleep 0.3; done`);
}

it('OLA reaches the wire by sACN, and by Art-Net as to a node that has answered its poll', async () => {
  set(DESK.sacn, 211);
  await until('its sACN is on universe 1', () => said.includes('1 211'), 15);
  set(DESK.artnet, 122);
  await until('its Art-Net is on universe 2', () => said.includes('2 122'), 20);
  const heard = () => daemon.log.filter(({ kind }) => kind === 'desk-heard');
  await until('both are told of', () => heard().length === 2);
  expect(heard().map(({ msg }) => msg)).toEqual([
    expect.stringMatching(/^desk "lit" is heard: "[^"]+" at 10\.86\.0\.2, priority 100$/),
    'desk "stage" is heard: 10.86.0.2',
  ]);
}, 60_000);
