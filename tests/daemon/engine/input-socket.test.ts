import { createSocket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, describe, expect, it } from 'vitest';
import { Inbox } from '../../../src/daemon/engine/inbox.js';
import { InputSocket } from '../../../src/daemon/engine/input-socket.js';
import type { InterfaceFinder } from '../../../src/daemon/lighting/interfaces.js';
import type { InputPlan } from '../../../src/show/model/model.js';
import { IDENTITY } from '../../../src/stage/rotation.js';

/** A loopback address of this test's own, so that no port of it is taken. */
const HERE = '127.0.62.1';
const PORT = 19_310;
const open: { close(): void }[] = [];

afterEach(() => {
  for (const one of open.splice(0)) one.close();
});

function input(changes: Partial<InputPlan> = {}, find?: InterfaceFinder) {
  const plan: InputPlan = {
    carries: 'positions',
    name: 'tracking',
    listen: HERE,
    port: PORT,
    allow: 'any',
    maxDatagramBytes: 1472,
    timeTags: 'due',
    isStamped: false,
    routes: [],
    psn: undefined,
    origin: { x: 0, y: 0, z: 0 },
    rotation: IDENTITY,
    scale: 1,
    ...changes,
  };
  const seen = { arrived: 0, refused: 0 };
  const said: string[] = [];
  const inbox = new Inbox();
  const hooks = {
    arrived: () => {
      seen.arrived += 1;
    },
    refused: () => {
      seen.refused += 1;
    },
    fault: (message: string) => said.push(message),
    back: (message: string) => said.push(message),
  };
  const made = new InputSocket(3, plan, inbox, hooks, find);
  open.push(made);
  return { made, inbox, seen, said };
}

async function send(from: string, text: string): Promise<void> {
  const socket = createSocket('udp4');
  await new Promise<void>(resolve => socket.bind(0, from, resolve));
  await new Promise<void>(resolve => {
    socket.send(text, PORT, HERE, () => resolve());
  });
  socket.close();
}

/** Datagrams need a turn of the event loop, on a busy machine several: hence the wait. */
async function until(holds: () => boolean): Promise<void> {
  for (let i = 0; i < 800 && !holds(); i++) await sleep(5);
  expect(holds()).toBe(true);
}

describe('an input', () => {
  it('stamps datagrams and puts them into the inbox', async () => {
    const { made, inbox, seen } = input();
    expect(await made.open()).toBeUndefined();
    await send('127.0.0.1', 'one');
    await until(() => seen.arrived === 1);
    const [datagram] = inbox.take();
    expect(datagram).toMatchObject({ input: 3 });
    expect(datagram?.bytes.toString()).toBe('one');
    expect(datagram?.arrivalS).toBeGreaterThan(0);
  });

  it('refuses senders that are neither an allowed address nor in an allowed range', async () => {
    const { made, seen } = input({ allow: ['127.0.63.5', '127.0.64.0/24'] });
    expect(await made.open()).toBeUndefined();
    for (const from of ['127.0.63.5', '127.0.64.200', '127.0.63.6', '127.0.65.1']) {
      await send(from, 'x');
    }
    await until(() => seen.arrived + seen.refused === 4);
    expect(seen).toEqual({ arrived: 2, refused: 2 });
    // The show is loaded anew, with others; nothing is lost meanwhile, as the socket stays.
    made.allow(['127.0.63.6']);
    for (const from of ['127.0.63.5', '127.0.63.6']) await send(from, 'x');
    await until(() => seen.arrived + seen.refused === 6);
    expect(seen).toEqual({ arrived: 3, refused: 3 });
    made.allow('any');
    await send('127.0.63.5', 'x');
    await until(() => seen.arrived === 4);
  });

  it('says in plain words why it can not listen', async () => {
    const first = input();
    expect(await first.made.open()).toBeUndefined();
    expect(await input().made.open()).toContain(
      `another program on this machine, process ${process.pid} (`,
    );
    expect(await input({ listen: '192.0.2.1' }).made.open()).toContain(
      'this machine has no interface with that address',
    );
  });
});

describe('an input by multicast', () => {
  const GROUP = '236.10.10.10';
  const psn = {
    listen: 'eth1',
    port: PORT + 1,
    psn: { group: GROUP, axes: ['x', 'z', 'y'], quality: [0, 1], stamps: 'if sent' },
  } as const;
  const loopback = {
    name: 'lo',
    address: '127.0.0.1',
    loopback: true,
    netmask: '255.0.0.0',
    broadcast: '127.255.255.255',
  };

  function sender() {
    const socket = createSocket('udp4');
    open.push(socket);
    socket.bind(0, '127.0.0.1', () => socket.setMulticastInterface('127.0.0.1'));
    return () => socket.send('one', PORT + 1, GROUP, () => undefined);
  }

  it('hears the group on its interface, beside others that do', async () => {
    const [one, other] = [input(psn, () => loopback), input(psn, () => loopback)];
    expect(await one.made.open()).toBeUndefined();
    expect(await other.made.open()).toBeUndefined();
    const again = sender();
    await until(() => {
      again();
      return one.seen.arrived > 0 && other.seen.arrived > 0;
    });
  });

  it('says which interface is missing', async () => {
    expect(await input(psn, () => undefined).made.open()).toMatch(
      /^input "tracking" can't listen: this machine has no interface eth1; it has lo /,
    );
  });

  // Waits for the wall clock: the interface is looked at once a second.
  it('is told of when its interface goes, and joins anew when it is back with another address', async () => {
    let there: typeof loopback | undefined = loopback;
    const { made, seen, said } = input(psn, () => there);
    expect(await made.open()).toBeUndefined();
    there = undefined;
    await until(() => said.length === 1);
    there = { ...loopback, address: '127.0.0.2' };
    await until(() => said.length === 2);
    expect(said).toEqual([
      'input "tracking" hears nothing: interface eth1 is gone',
      `input "tracking" listens on eth1:${PORT + 1} again`,
    ]);
    const again = sender();
    await until(() => {
      again();
      return seen.arrived > 0;
    });
  });
});
