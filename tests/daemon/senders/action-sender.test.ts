import { createSocket, type Socket } from 'node:dgram';
import { once } from 'node:events';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { ActionSender } from '../../../src/daemon/senders/action-sender.js';
import { ReceiverSockets } from '../../../src/daemon/senders/receiver-sockets.js';

let listener: Socket;
let port: number;
let faults: (string | undefined)[];
let leftOut: number;
let sender: ActionSender;
let sockets: ReceiverSockets;
const heard: Buffer[] = [];

beforeEach(async () => {
  listener = createSocket('udp4');
  listener.on('message', bytes => heard.push(bytes));
  listener.bind(0, '127.0.0.1');
  await once(listener, 'listening');
  ({ port } = listener.address());
  heard.length = 0;
  faults = [];
  leftOut = 0;
  sockets = new ReceiverSockets((_, fault, missed) => {
    faults.push(fault);
    leftOut += missed;
  });
  sender = new ActionSender(sockets);
});
afterEach(() => {
  sockets.end();
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
  expect(faults).toEqual([
    expect.stringMatching(/^this machine has no interface no-such0; it has /),
  ]);
});

it('a receiver that has no route is told, and takes nothing from another one on the same interface', async () => {
  const [sound] = receivers('127.0.0.1');
  // Nothing but this machine is reached from the loopback address.
  const far = { ...(sound as NonNullable<typeof sound>), name: 'far', address: '192.0.2.1' };
  const all = [far, ...receivers('127.0.0.1')];
  const news = once(listener, 'message');
  sender.send({ ...action('/far'), receiver: 'far' }, all, true);
  sender.send(action('/near'), all, true);
  await news;
  expect(heard.map(String)).toEqual(['/near\0\0\0,i\0\0\0\0\0\u0001']);
  await vi.waitFor(() => expect(faults).toEqual([expect.stringMatching(/EINVAL|ENETUNREACH/)]));
});

it('an address that the interface has no more is told, and tried again', async () => {
  const none = new ReceiverSockets(
    (_, fault) => faults.push(fault),
    () => ({ name: 'eth9', address: '192.0.2.77' }) as never,
  );
  const gone = new ActionSender(none);
  gone.send(action('/a'), receivers('eth9'), true);
  await vi.waitFor(() => expect(faults).toEqual([expect.stringContaining('EADDRNOTAVAIL')]));
  gone.send(action('/b'), receivers('eth9'), true);
  none.end();
});

it('nobody listens: nothing fails, and nothing is told', async () => {
  listener.close();
  await once(listener, 'close');
  for (let i = 0; i < 20; i++) sender.send(action(`/a${i}`), receivers('127.0.0.1'), true);
  listener = createSocket('udp4');
  listener.on('message', bytes => heard.push(bytes));
  listener.bind(port, '127.0.0.1');
  await once(listener, 'listening');
  const news = once(listener, 'message');
  sender.send(action('/back'), receivers('127.0.0.1'), true);
  await news;
  expect(faults).toEqual([]);
});

it('a network that takes nothing: what waits is bounded, the rest is left out, counted and told', async () => {
  // All in one turn: nothing can leave before it is over.
  for (let i = 0; i < 300; i++) sender.send(action('/a'), receivers('127.0.0.1'), true);
  expect(faults).toEqual(['its network accepts nothing from 127.0.0.1 at the moment']);
  await vi.waitFor(() => expect(faults.at(-1)).toBeUndefined());
  expect(leftOut).toBe(300 - 256);
  expect(faults).toHaveLength(2);
  await vi.waitFor(() => expect(heard.length).toBeGreaterThan(0));
});
