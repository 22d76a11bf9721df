import { type ChildProcess, execFileSync } from 'node:child_process';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { Daemon, type LogLine, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';
import { Capture } from './capture.js';

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

function start(host: string, file = show.file): Daemon {
  const daemon = Daemon.inNamespace(host, file);
  daemons.push(daemon);
  return daemon;
}

/** Reports a tracker at the stove to the daemon of this host. */
const FEED = `
const socket = require('node:dgram').createSocket('udp4');
const text = s => Buffer.from(s + '\\0'.repeat(4 - s.length % 4));
const float = v => { const b = Buffer.alloc(4); b.writeFloatBE(v); return b; };
const bytes = Buffer.concat([text('/tracker/1/position'), text(',fff'), float(2), float(3), float(1.4)]);
setInterval(() => socket.send(bytes, 9010, '127.0.0.1'), 25);`;

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

it('tells how many lamps changed while the cable was out, and when they are at their new values', async () => {
  const daemon = start('lwfa');
  const feed = spawn('ip', ['netns', 'exec', 'lwfa', process.execPath, '-e', FEED]);
  children.push(feed);
  const isLive = ({ kind, to }: LogLine) => kind === 'performer' && to === 'live';
  await until('she is followed', () => daemon.log.some(isLive), 20);
  await sleep(1000); // her lamp fades in
  ip('-n', 'lwfa', 'link', 'set', 'lw0', 'down');
  await until('the loss is told', () => told(daemon, 'interface-lost').length > 0);
  feed.kill();
  await until('she is lost meanwhile', () => told(daemon, 'performer').at(-1)?.to === 'safe', 10);
  ip('-n', 'lwfa', 'link', 'set', 'lw0', 'up');
  await until('the lamp is back', () => told(daemon, 'light-rejoined').length > 0, 20);
  expect(told(daemon, 'light-rejoins')).toMatchObject([
    { universes: [1], all: true, fixtures: 1, forS: expect.any(Number) },
  ]);
  // Its fade to safe takes 2 s, and it stays there: from what it had to a safe level that is out.
  expect(Number(told(daemon, 'light-rejoined')[0]?.forS)).toBeGreaterThan(0.5);
  // It has listened for a standby, which nobody has set up and nobody ever heard: that is nothing to tell.
  expect(told(daemon, 'pair')).toEqual([]);
});

it('a desk on an interface that is named by its address and goes down can be heard no more as it is down, not gone', async () => {
  const desk = 'desk: { control: { protocol: sacn, universe: 201, interface: 10.78.0.1 } }\n';
  const own = variantOf('config/minimal.show.yaml', [
    ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: lw0, to: multicast'],
    ['outputs:', `${desk}outputs:`],
  ]);
  const daemon = start('lwfa', own.file);
  await until('the engine runs', () => daemon.enginePid > 0);
  ip('-n', 'lwfa', 'link', 'set', 'lw0', 'down');
  await until('that is told', () => told(daemon, 'desk-deaf').length > 0, 10);
  expect(told(daemon, 'desk-deaf')[0]?.reason).toBe('the interface is there, but down');
  ip('-n', 'lwfa', 'link', 'set', 'lw0', 'up');
  own.remove();
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

/** A host firewall, by nftables: what its output hook drops fails with EPERM. */
const nft = (...args: string[]) =>
  execFileSync('ip', ['netns', 'exec', 'lwfa', 'nft', ...args], { stdio: 'pipe' });

it('a firewall rule that comes and goes: told of by output, polls apart, and the light goes on without a jump', async () => {
  const feed = spawn('ip', ['netns', 'exec', 'lwfa', process.execPath, '-e', FEED]);
  children.push(feed);
  const capture = await Capture.open('udp port 5568', { host: 'lwfb', interface: 'lw0' });
  // A universe that two outputs send goes on while one of them does; so each has its own.
  const apart = variantOf('config/minimal.show.yaml', [
    ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: lw0, to: multicast'],
    [
      'fixtures:\n',
      'fixtures:\n  window: { profile: dimmer, universe: 2, address: 1, safe: { Dimmer: 20 } }\n',
    ],
    [
      'outputs:',
      'outputs:\n  heads: { protocol: artnet, interface: lw0, to: [10.78.0.200], universes: [2] }',
    ],
  ]);
  const daemon = start('lwfa', apart.file);
  const isLive = ({ kind, to }: LogLine) => kind === 'performer' && to === 'live';
  await until('it is live', () => daemon.log.some(isLive), 30);
  await sleep(1500); // the fade up
  nft('add', 'table', 'ip', 'wall');
  nft('add', 'chain', 'ip', 'wall', 'out', '{ type filter hook output priority 0; }');
  nft('add', 'rule', 'ip', 'wall', 'out', 'udp dport 5568 drop');
  nft('add', 'rule', 'ip', 'wall', 'out', 'ip daddr 10.78.0.255 drop');
  await until('the output is told of', () => told(daemon, 'send-failed').length > 0);
  await until('the poll is told of', () => told(daemon, 'errand-failed').length > 0, 15);
  // Behind the wall the light goes to its safe look.
  feed.kill();
  const isSafe = ({ kind, to }: LogLine) => kind === 'performer' && to === 'safe';
  await until('it is safe', () => daemon.log.some(isSafe), 15);
  nft('delete', 'table', 'ip', 'wall');
  await until('polls leave again', () => told(daemon, 'errand-sent').length > 0, 30);
  await until('the output is told of again', () => told(daemon, 'sent-again').length > 0);
  await sleep(1500); // the rest of the way, at the limit, and a keep-alive
  await capture.end();

  const failed = told(daemon, 'send-failed');
  expect(new Set(failed.map(({ output }) => output))).toEqual(new Set(['lamps']));
  // Once, and not each second.
  expect(failed).toMatchObject([{ sent: 0, reason: expect.stringContaining('EPERM') }]);
  expect(told(daemon, 'sent-again')).toMatchObject([{ output: 'lamps' }]);
  expect(told(daemon, 'errand-failed').map(({ errand }) => errand)).toContain('ArtPoll');
  const levels = capture
    .fields('acn.dmx.universe == 1', ['acn.dmx.data'])
    .map(([data = '']) => /001-020: ([0-9A-F.]{2})/.exec(data)?.[1] ?? '')
    .map(text => (text === '..' ? 0 : Number.parseInt(text, 16)));
  expect(Math.max(...levels)).toBe(255);
  expect(levels.at(-1)).toBe(51);
  const steps = levels.map((level, i) => Math.abs(level - (levels[i - 1] ?? level)));
  // The limit on intensity: the range in 0.1 s, over a beat of at most 0.05 s; from 255 to 51 are 204.
  expect(Math.max(...steps)).toBeLessThanOrEqual(128);
  capture.remove();
  apart.remove();
}, 120_000);
