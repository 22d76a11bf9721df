import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { Daemon, type LogLine, until, variantOf } from '../system/support.js';

/** Two hosts of the test's own, by a cable that the test can pull. Needs root and iproute2. */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = ['lwfa', 'lwfb'] as const;

const removeHosts = () => {
  for (const name of HOSTS) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

const children: ChildProcess[] = [];
let daemons: Daemon[] = [];
let show: ReturnType<typeof variantOf>;

beforeAll(() => {
  removeHosts();
  for (const name of HOSTS) ip('netns', 'add', name);
  ip('link', 'add', 'lw0', 'netns', 'lwfa', 'type', 'veth', 'peer', 'name', 'lw0', 'netns', 'lwfb');
  for (const [i, name] of HOSTS.entries()) {
    ip('-n', name, 'addr', 'add', `10.78.0.${i + 1}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  show = variantOf('config/minimal.show.yaml', [
    ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: lw0, to: multicast'],
    [
      'outputs:',
      'outputs:\n  heads: { protocol: artnet, interface: lw0, to: [10.78.0.200], universes: [1] }',
    ],
  ]);
});
afterEach(async () => {
  for (const daemon of daemons) await daemon.stop();
  daemons = [];
  for (const child of children) child.kill();
});
afterAll(() => {
  removeHosts();
  show.remove();
});

function start(host: string): Daemon {
  const daemon = Daemon.inNamespace(host, show.file);
  daemons.push(daemon);
  return daemon;
}

/** Events of a kind so far. */
const told = (daemon: Daemon, kind: string) => daemon.log.filter(line => line.kind === kind);

it('tells when the cable is pulled, which makes no send fail, and when it is back', async () => {
  const daemon = start('lwfa');
  await until('the engine runs', () => daemon.enginePid > 0);
  // The other end goes down: this one keeps its address, and the system takes every packet.
  ip('-n', 'lwfb', 'link', 'set', 'lw0', 'down');
  // By its carrier, or, once the system no longer lists it as running, as lost for that reason.
  const isCarrier = ({ kind, reason }: LogLine) =>
    kind === 'carrier-lost' || (kind === 'interface-lost' && String(reason).includes('no carrier'));
  await until('the loss is told', () => daemon.log.some(isCarrier));
  expect(told(daemon, 'send-failed')).toEqual([]);
  ip('-n', 'lwfb', 'link', 'set', 'lw0', 'up');
  await until('the return is told', () =>
    ['carrier-back', 'interface-back'].some(kind => told(daemon, kind).length > 0),
  );
});

it('tells of a second daemon on its universes: both do, with name, address and priority', async () => {
  const [one, two] = [start('lwfa'), start('lwfb')];
  for (const [daemon, address] of [
    [one, '10.78.0.2'],
    [two, '10.78.0.1'],
  ] as const) {
    await until('the other is told of', () => told(daemon, 'other-source').length > 0, 15);
    expect(told(daemon, 'other-source')[0]).toMatchObject({
      protocol: 'sacn',
      universes: [1],
      name: 'lampwright One lamp',
      address,
      priority: 100,
      conflict: true,
    });
  }
  await two.stop();
  // It ends its streams (E1.31 6.2.6): nobody waits for it to time out.
  await until('its end is told', () => told(one, 'other-source-gone').length > 0);
});

/** Asks once who is there, as the OLA project's and every controller's ArtPoll does; prints what answers. */
const ASK = `
const socket = require('node:dgram').createSocket('udp4');
socket.on('message', (bytes, from) => console.log(from.address, bytes.readUInt16LE(8).toString(16), bytes.toString('latin1', 26, 36)));
socket.bind(6454, '10.78.0.2', () => socket.send(Buffer.from('4172742d4e6574000020000e0200', 'hex'), 6454, '10.78.0.1'));`;

it('answers an ArtPoll, so that others list it', async () => {
  const daemon = start('lwfa');
  await until('the engine runs', () => daemon.enginePid > 0);
  const asker = spawn('ip', ['netns', 'exec', 'lwfb', process.execPath, '-e', ASK]);
  children.push(asker);
  let heard = '';
  asker.stdout.on('data', (text: Buffer) => {
    heard += text.toString();
  });
  await until('it answers', () => heard.includes('10.78.0.1 2100 lampwright'));
});
