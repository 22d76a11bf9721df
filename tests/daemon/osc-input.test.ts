import { createSocket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, describe, expect, it } from 'vitest';
import { Inbox } from '../../src/daemon/inbox.js';
import { OscInput } from '../../src/daemon/osc-input.js';
import type { InputPlan } from '../../src/show/model.js';
import { IDENTITY } from '../../src/stage/rotation.js';

/** A loopback address of this test's own, so that no port of it is taken. */
const HERE = '127.0.62.1';
const PORT = 19_310;
const open: { close(): void }[] = [];

afterEach(() => {
  for (const one of open.splice(0)) one.close();
});

function input(changes: Partial<InputPlan> = {}) {
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
    origin: { x: 0, y: 0, z: 0 },
    rotation: IDENTITY,
    scale: 1,
    ...changes,
  };
  const seen = { arrived: 0, refused: 0 };
  const inbox = new Inbox();
  const made = new OscInput(3, plan, inbox, {
    arrived: () => {
      seen.arrived += 1;
    },
    refused: () => {
      seen.refused += 1;
    },
    fault: () => undefined,
    back: () => undefined,
  });
  open.push(made);
  return { made, inbox, seen };
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
  for (let i = 0; i < 200 && !holds(); i++) await sleep(5);
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
