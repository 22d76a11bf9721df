import { createSocket, type Socket } from 'node:dgram';
import { once } from 'node:events';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { ActionSender } from '../../src/daemon/action-sender.js';

let listener: Socket;
let port: number;
let faults: (string | undefined)[];
let sender: ActionSender;
const heard: Buffer[] = [];

beforeEach(async () => {
  listener = createSocket('udp4');
  listener.on('message', bytes => heard.push(bytes));
  listener.bind(0, '127.0.0.1');
  await once(listener, 'listening');
  ({ port } = listener.address());
  heard.length = 0;
  faults = [];
  sender = new ActionSender((_, fault) => faults.push(fault));
});
afterEach(() => {
  sender.end();
  listener.close();
});

const action = (address: string) =>
  ({
    kind: 'action',
    of: 'cue',
    name: 'storm',
    on: 'enter',
    receiver: 'sound',
    address,
    args: [1],
  }) as const;
const receivers = (at: string) => [
  { name: 'sound', label: 'Sound', address: '127.0.0.1', port, interface: at },
];

it('a standby sends none, and what it holds back is not sent when it stands in', async () => {
  expect(sender.send(action('/held'), receivers('127.0.0.1'), false)).toBe(false);
  expect(sender.send(action('/sent'), receivers('127.0.0.1'), true)).toBe(true);
  // One socket to one socket of this machine: what was sent first arrives first.
  await once(listener, 'message');
  // OSC 1.0: address and types end with a zero, and fill whole fours; 1 as int32, big-endian.
  expect(heard.map(String)).toEqual(['/sent\0\0\0,i\0\0\0\0\0\u0001']);
  expect(faults).toEqual([]);
});

it('a receiver without its interface is told once, for the one that leads only', () => {
  sender.send(action('/held'), receivers('no-such0'), false);
  expect(faults).toEqual([]);
  sender.send(action('/a'), receivers('no-such0'), true);
  sender.send(action('/b'), receivers('no-such0'), true);
  expect(faults).toEqual(['this machine has no interface no-such0']);
});
