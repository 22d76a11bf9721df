import { type ChildProcess, execFileSync } from 'node:child_process';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/**
 * Two hosts of the test's own: lwn is the show machine, lwm has a desk and a node. The desk is npm `sacn`
 * (Apache-2.0), the node npm `dmxnet` (MIT): neither is ours. Needs root and iproute2.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });

const STRANGERS = `
const { Packet } = require('sacn');
const { dmxnet } = require('dmxnet');
const socket = require('node:dgram').createSocket('udp4');
socket.bind(0, '10.78.0.2', () => {
  socket.setMulticastInterface('10.78.0.2');
  let sequence = 0;
  setInterval(() => {
    const packet = new Packet({
      universe: 1, priority: 150, sequence: sequence++ % 256, sourceName: 'front of house',
      cid: Buffer.alloc(16, 7), payload: Buffer.alloc(512, 9), useRawDmxValues: true,
    });
    socket.send(packet.buffer, 5568, '239.255.0.1');
  }, 100);
});
// It looks for its interfaces once, and a cable takes a moment to be there.
const begin = () => {
  if (require('node:os').networkInterfaces().lwm0 === undefined) return setTimeout(begin, 50);
  new dmxnet({ log: { level: 'error' } }).newReceiver({ net: 0, subnet: 0, universe: 3 });
  console.log('ready');
};
begin();`;

let strangers: ChildProcess;

const removeHosts = () => {
  for (const name of ['lwn', 'lwm']) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

beforeAll(async () => {
  removeHosts();
  for (const name of ['lwn', 'lwm']) ip('netns', 'add', name);
  ip('link', 'add', 'lwn0', 'netns', 'lwn', 'type', 'veth', 'peer', 'name', 'lwm0', 'netns', 'lwm');
  // A second pair, whose range overlaps the first.
  ip('link', 'add', 'lwn1', 'netns', 'lwn', 'type', 'veth', 'peer', 'name', 'lwm1', 'netns', 'lwm');
  for (const [name, device, address] of [
    ['lwn', 'lwn0', '10.78.0.1/24'],
    ['lwm', 'lwm0', '10.78.0.2/24'],
    ['lwn', 'lwn1', '10.78.1.1/16'],
    ['lwm', 'lwm1', '10.79.1.2/24'],
  ] as const) {
    ip('-n', name, 'addr', 'add', address, 'brd', '+', 'dev', device);
    ip('-n', name, 'link', 'set', device, 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  strangers = spawn('ip', ['netns', 'exec', 'lwm', process.execPath, '-e', STRANGERS], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  if (strangers.stdout === null) throw new Error('no pipe');
  let ready = false;
  createInterface({ input: strangers.stdout }).on('line', line => {
    ready ||= line === 'ready';
  });
  await until('desk and node are there', () => ready);
});

afterAll(() => {
  strangers.kill();
  removeHosts();
});

it('finds the desk that wins, the node that answers, and ranges that overlap', async () => {
  const show = variantOf('config/minimal.show.yaml', [
    [
      'interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }',
      'interface: lwn0, to: multicast, universes: [1], priority: 100 }\n' +
        '  node: { protocol: artnet, interface: lwn0, to: [10.78.0.2], universes: [1], offset: 2 }',
    ],
  ]);
  const command = ['networks', show.file, '--seconds', '7', '--json'];
  const child = spawn(
    'ip',
    ['netns', 'exec', 'lwn', process.execPath, 'dist/main.js', ...command],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  );
  let text = '';
  child.stdout.on('data', (part: Buffer) => {
    text += part.toString();
  });
  const code = await new Promise(resolve => child.once('close', resolve));
  show.remove();
  const { ok, checks } = JSON.parse(text) as {
    ok: boolean;
    checks: { area: string; name: string; state: string; found: string }[];
  };
  const find = (name: string) => checks.find(check => check.name === name);
  expect([code, ok]).toEqual([1, false]);
  expect(find('front of house')).toMatchObject({ area: 'sources', state: 'fail' });
  expect(find('front of house')?.found).toContain('at priority 150, we at 100');
  expect(find('node 10.78.0.2')).toMatchObject({ area: 'nodes', state: 'pass' });
  expect(find('address ranges')).toMatchObject({ state: 'warn' });
  expect(find('address ranges')?.found).toContain('lwn0');
});
