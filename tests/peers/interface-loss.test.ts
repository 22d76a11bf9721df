import { type ChildProcess, execFileSync } from 'node:child_process';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Daemon, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/** Two hosts of the test's own: lwa runs the daemon, lwb has a gateway's ears. Needs root and iproute2. */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });

/** Joins the multicast group of universe 1 (E1.31 Table 9-10) and prints when a packet of it comes. */
const EARS = `
const socket = require('node:dgram').createSocket({ type: 'udp4', reuseAddr: true });
socket.on('message', bytes => console.log(bytes.readUInt16BE(113), bytes[108], bytes[126]));
socket.bind(5568, () => { socket.addMembership('239.255.0.1', '10.77.0.2'); console.log('ready'); });`;

let ears: ChildProcess;
const heard: string[] = [];

const removeHosts = () => {
  for (const name of ['lwa', 'lwb']) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

beforeAll(async () => {
  removeHosts();
  for (const name of ['lwa', 'lwb']) ip('netns', 'add', name);
  ip('link', 'add', 'lwa0', 'netns', 'lwa', 'type', 'veth', 'peer', 'name', 'lwb0', 'netns', 'lwb');
  for (const [name, address] of [
    ['lwa', '10.77.0.1/24'],
    ['lwb', '10.77.0.2/24'],
  ] as const) {
    ip('-n', name, 'addr', 'add', address, 'brd', '+', 'dev', `${name}0`);
    ip('-n', name, 'link', 'set', `${name}0`, 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  ears = spawn('ip', ['netns', 'exec', 'lwb', process.execPath, '-e', EARS], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  if (ears.stdout === null) throw new Error('no pipe');
  createInterface({ input: ears.stdout }).on('line', line => heard.push(line));
  await until('the gateway listens', () => heard.includes('ready'));
});

afterAll(() => {
  ears.kill();
  removeHosts();
});

it('sends by multicast from a named interface, and outlives its loss', async () => {
  const show = variantOf('config/minimal.show.yaml', [
    ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: lwa0, to: multicast, priority: 120'],
  ]);
  const daemon = Daemon.inNamespace('lwa', show.file);
  await until('the safe look is heard', () => heard.some(line => line === '1 120 51'));
  await until('the engine runs', () => daemon.enginePid > 0);

  ip('-n', 'lwa', 'link', 'set', 'lwa0', 'down');
  await until('the loss is in the log', () => daemon.log.some(l => l.kind === 'interface-lost'));
  await sleep(1500); // longer than the daemon takes to look again
  const before = heard.length;
  ip('-n', 'lwa', 'link', 'set', 'lwa0', 'up');
  await until('it is heard again', () => heard.length > before + 2);
  expect(daemon.log.some(line => line.kind === 'interface-back')).toBe(true);
  expect(await daemon.stop()).toBe(0);
  show.remove();
});

it('outputs that name one interface by its name and by its address, missing at the start, come up as one owner', async () => {
  const show = variantOf('config/minimal.show.yaml', [
    ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: lwa0, to: multicast, priority: 121'],
    [
      'outputs:',
      'outputs:\n  heads: { protocol: artnet, interface: 10.77.0.1, to: [10.77.0.2], universes: [1] }',
    ],
  ]);
  ip('-n', 'lwa', 'addr', 'del', '10.77.0.1/24', 'dev', 'lwa0');
  const daemon = Daemon.inNamespace('lwa', show.file);
  await until('the engine runs', () => daemon.enginePid > 0);
  const kinds = (kind: string) => daemon.log.filter(line => line.kind === kind);
  expect(kinds('interface-lost').map(line => line.interface)).toEqual(['10.77.0.1', 'lwa0']);
  ip('-n', 'lwa', 'addr', 'add', '10.77.0.1/24', 'brd', '+', 'dev', 'lwa0');
  await until('it is heard', () => heard.some(line => line === '1 121 51'));
  await until('both are back', () => kinds('interface-back').length === 2);
  const ports = execFileSync('ip', ['netns', 'exec', 'lwa', 'ss', '-uan'], { encoding: 'utf8' });
  expect(ports.match(/10\.77\.0\.1:6454/g)).toHaveLength(1);
  // One socket for both: nothing is sent from a port of nobody's choice.
  expect(ports.match(/10\.77\.0\.1:/g)).toHaveLength(1);
  expect(kinds('poll-port-taken')).toEqual([]);
  expect(kinds('other-source')).toEqual([]);
  // A second show on the same interface, by whatever name, finds its owner.
  const second = Daemon.inNamespace('lwa', show.file);
  expect(await second.exited).toBe(3);
  expect(await daemon.stop()).toBe(0);
  show.remove();
});
