import { createSocket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import { Packet } from 'sacn';
import { afterEach, describe, expect, test } from 'vitest';
import { Desk } from '../../../src/daemon/desk/desk.js';
import type { DeskEvent } from '../../../src/daemon/desk/events.js';
import type { HeardUniverse } from '../../../src/daemon/desk/heard-universe.js';
import { createDmxPacket } from '../../../src/protocols/artnet/dmx-packet.js';
import { encodePoll } from '../../../src/protocols/artnet/poll.js';
import { decodePollReply } from '../../../src/protocols/artnet/poll-reply.js';
import { encodeSync } from '../../../src/protocols/artnet/sync.js';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { createSyncPacket } from '../../../src/protocols/sacn/sync-packet.js';
import type { DeskInputPlan } from '../../../src/show/model/model.js';

/** An address of the loopback that no other test listens on. */
const HERE = '127.0.48.1';
const CID = new Uint8Array(16).fill(7);
const OUR_NAME = 'lampwright The Salt Lantern';

const plan = (more: Partial<DeskInputPlan> = {}): DeskInputPlan => ({
  name: 'stage',
  protocol: 'sacn',
  universe: 481,
  interface: HERE,
  gone: 'hold',
  goneApart: [],
  leavesSafe: false,
  ground: undefined,
  fadeS: 2,
  ...more,
});

const open: { close(): unknown }[] = [];
afterEach(() => {
  for (const one of open.splice(0)) one.close();
});

function deskOf(plans: readonly DeskInputPlan[], hasPort = false) {
  const events: DeskEvent[] = [];
  const clock = { nowS: 100, changes: 0 };
  const desk = new Desk(plans, {
    cid: () => CID,
    ownNames: [OUR_NAME],
    hasPort: () => hasPort,
    sends: () => false,
    sourceName: OUR_NAME,
    onEvent: event => events.push(event),
    onChange: () => {
      clock.changes += 1;
    },
    now: () => clock.nowS,
    random: () => 0,
    findInterface: name => {
      if (name !== HERE) return undefined;
      return {
        name: 'lo',
        address: HERE,
        loopback: true,
        netmask: '255.0.0.0',
        broadcast: '127.255.255.255',
      };
    },
  });
  open.push(desk);
  return { desk, events, clock };
}

function sacnBytes(
  level: number,
  {
    syncAddress = 0,
    ...more
  }: {
    cid?: Uint8Array;
    sourceName?: string;
    priority?: number;
    universe?: number;
    syncAddress?: number;
  } = {},
) {
  const packet = createDataPacket({
    cid: new Uint8Array(16).fill(1),
    sourceName: 'main desk',
    universe: 481,
    priority: 100,
    ...more,
  });
  packet.slots.fill(level);
  packet.setSyncAddress(syncAddress);
  return packet;
}

/** As a lighting socket of ours hands it on; ears that don't listen. */
function handed(plans: readonly DeskInputPlan[]) {
  const rig = deskOf(plans, true);
  rig.desk.tend(rig.clock.nowS);
  const hear = (bytes: Buffer, from = '10.0.0.9', protocol: 'sacn' | 'artnet' = 'sacn') =>
    rig.desk.take(protocol, bytes, from, HERE);
  const later = (seconds: number) => {
    rig.clock.nowS += seconds;
    rig.desk.tend(rig.clock.nowS);
  };
  return { ...rig, hear, later };
}

describe('what is no desk', () => {
  test('our own streams, and those of the other machine of a pair: by CID and by name', () => {
    const { desk, hear } = handed([plan()]);
    hear(sacnBytes(9, { cid: CID }).buffer);
    hear(sacnBytes(9, { sourceName: OUR_NAME }).buffer);
    expect(desk.universes[0]?.isHeard).toBe(false);
    hear(sacnBytes(9).buffer);
    expect(desk.universes[0]?.levels[511]).toBe(9);
  });

  test('what can’t be read, and universes that nobody asked for', () => {
    const { desk, hear, later, events } = handed([plan({ universe: 482 })]);
    hear(Buffer.from('no packet'));
    hear(sacnBytes(9).buffer);
    expect(desk.rejected).toBe(1);
    later(6);
    expect(events).toContainEqual({ kind: 'desk-dropped', drops: { unreadable: 1 } });
    expect(desk.universes[0]).toMatchObject({ isHeard: false, everHeard: false });
  });
});

describe('whose levels they are', () => {
  test('changes with the sources that count, and stays when they are gone', () => {
    const { desk, hear, later } = handed([plan()]);
    const [main, second, backup] = [1, 2, 3].map(id =>
      sacnBytes(10 * id, {
        cid: new Uint8Array(16).fill(id),
        sourceName: `desk ${id}`,
        priority: id === 3 ? 50 : 100,
      }),
    ) as [ReturnType<typeof sacnBytes>, ReturnType<typeof sacnBytes>, ReturnType<typeof sacnBytes>];
    const say = (...packets: readonly (typeof main)[]) => {
      for (const packet of packets) {
        packet.advanceSequence();
        hear(packet.buffer);
      }
      later(1);
      return desk.universes[0]?.from;
    };
    const [ofMain, ofSecond, ofBackup] = ['01', '02', '03'].map(id => id.repeat(16));
    expect(say(main)).toBe(ofMain);
    expect(say(main, backup)).toBe(ofMain);
    expect(say(second, main, backup)).toBe(`${ofMain} ${ofSecond}`);
    for (let i = 0; i < 3; i++) say(backup);
    expect(desk.universes[0]).toMatchObject({ from: ofBackup, isHeard: true });
    for (let i = 0; i < 3; i++) later(1);
    expect(desk.universes[0]).toMatchObject({ from: ofBackup, isHeard: false });
  });
});

describe('what is told', () => {
  test('heard, two sources, gone after 2.5 s (E1.31 6.7.1), and back; once each, and at the most once a second', () => {
    const { desk, events, hear, later } = handed([plan()]);
    const [main, spare] = [
      sacnBytes(10),
      sacnBytes(20, { sourceName: 'spare', cid: new Uint8Array(16).fill(2) }),
    ];
    const beat = (packets: readonly ReturnType<typeof sacnBytes>[]) => {
      for (const packet of packets) {
        packet.advanceSequence();
        hear(packet.buffer);
      }
      later(0.5);
    };
    for (let i = 0; i < 6; i++) beat([main]);
    for (let i = 0; i < 6; i++) beat([main, spare]);
    expect(desk.universes[0]?.levels[0]).toBe(20);
    for (let i = 0; i < 12; i++) beat([]);
    expect(desk.universes[0]).toMatchObject({ isHeard: false, everHeard: true });
    // What it was last.
    expect(desk.universes[0]?.levels[0]).toBe(20);
    for (let i = 0; i < 3; i++) beat([main]);
    expect(events.map(({ kind }) => kind)).toEqual([
      'desk-heard',
      'desk-sources',
      'desk-gone',
      'desk-heard',
    ]);
    expect(events[2]).toMatchObject({ ended: false, last: { name: 'main desk' } });
    expect(events[3]).toMatchObject({ afterS: expect.any(Number) });
  });

  test('one that was never heard, after five seconds', () => {
    const { events, later } = handed([plan()]);
    for (let i = 0; i < 20; i++) later(0.5);
    expect(events).toEqual([{ kind: 'desk-silent', input: 'stage' }]);
  });

  test('one that comes and goes with each second is told of a few times, and then twice a minute', () => {
    const { events, hear, later } = handed([plan()]);
    const packet = sacnBytes(1);
    for (let i = 0; i < 200; i++) {
      packet.advanceSequence();
      packet.setTerminated(i % 2 === 1);
      hear(packet.buffer);
      later(1);
    }
    expect(events.length).toBeGreaterThan(8);
    expect(events.length).toBeLessThan(20);
  });

  test('that nothing can be heard where there is no interface', () => {
    const { desk, events, clock } = deskOf([plan({ interface: 'eth7' })]);
    desk.tend(clock.nowS);
    expect(events).toMatchObject([
      {
        kind: 'desk-deaf',
        inputs: ['stage'],
        reason: expect.stringContaining('no interface eth7'),
      },
    ]);
  });
});

describe('a reload', () => {
  const known = (universe: HeardUniverse | undefined) => ({
    isHeard: universe?.isHeard,
    everHeard: universe?.everHeard,
    level: universe?.levels[511],
    taken: universe?.counters.taken,
  });

  test('an input that is the same goes on with what it has heard, under whatever name, and nothing is told twice', () => {
    const { desk, events, hear, later } = handed([plan()]);
    hear(sacnBytes(9).buffer);
    later(1);
    const other = plan({ name: 'other', universe: 482 });
    desk.hear([other, plan({ name: 'floor', fadeS: 3 })], { ownNames: [], sourceName: '' });
    expect(desk.universes.map(known)).toEqual([
      { isHeard: false, everHeard: false, level: 0, taken: 0 },
      { isHeard: true, everHeard: true, level: 9, taken: 1 },
    ]);
    expect(desk.universes[1]?.plan).toMatchObject({ name: 'floor', fadeS: 3 });
    later(1);
    expect(events.map(({ kind }) => kind)).toEqual(['desk-heard']);
    // It has been silent for 2 s already.
    later(0.6);
    expect(desk.universes[1]).toMatchObject({ isHeard: false, everHeard: true });
    later(1);
    expect(events[1]).toMatchObject({ kind: 'desk-gone', input: 'floor' });
  });

  test('and so does an Art-Net port; what comes by another interface is another input', () => {
    const artnet = plan({ protocol: 'artnet', universe: 3 });
    const { desk, hear } = handed([artnet]);
    const { buffer, slots } = createDmxPacket({ portAddress: 3, slotCount: 512 });
    slots.fill(42);
    hear(buffer, '10.0.0.9', 'artnet');
    desk.hear([plan({ name: 'new' }), artnet], { ownNames: [], sourceName: '' });
    expect(known(desk.universes[1])).toMatchObject({ isHeard: true, everHeard: true, level: 42 });
    desk.hear([{ ...artnet, interface: 'eth7' }], { ownNames: [], sourceName: '' });
    expect(known(desk.universes[0])).toMatchObject({ isHeard: false, everHeard: false });
  });
});

describe('levels that wait for their synchronization from the first', () => {
  test('of Art-Net count as heard once ArtSync has shown them', () => {
    const ports = [3, 4].map(universe =>
      plan({ name: `p${universe}`, protocol: 'artnet', universe }),
    );
    const { desk, hear } = handed(ports);
    const send = (portAddress: number) => {
      const { buffer, slots } = createDmxPacket({ portAddress, slotCount: 512 });
      slots.fill(42);
      hear(buffer, '10.0.0.9', 'artnet');
    };
    send(3);
    hear(encodeSync(), '10.0.0.9', 'artnet');
    send(4);
    expect(desk.universes[1]).toMatchObject({ isHeard: false, everHeard: false });
    hear(encodeSync(), '10.0.0.9', 'artnet');
    expect(desk.universes[1]).toMatchObject({ isHeard: true, everHeard: true });
    expect(desk.universes[1]?.levels[0]).toBe(42);
  });

  test('of sACN too', () => {
    const { desk, hear } = handed([plan(), plan({ name: 'second', universe: 482 })]);
    const sync = createSyncPacket(new Uint8Array(16).fill(1), 500);
    hear(sacnBytes(1, { syncAddress: 500 }).buffer);
    hear(sync.buffer);
    hear(sacnBytes(42, { syncAddress: 500, universe: 482 }).buffer);
    expect(desk.universes[1]).toMatchObject({ isHeard: false, everHeard: false });
    sync.advanceSequence();
    hear(sync.buffer);
    expect(desk.universes[1]).toMatchObject({ isHeard: true, everHeard: true });
  });
});

test('what the npm package sacn makes is heard by multicast and by unicast on the interface', async () => {
  const { desk, clock } = deskOf([plan()]);
  desk.tend(clock.nowS);
  await sleep(50);
  const levels = desk.universes[0];
  const socket = createSocket('udp4');
  open.push(socket);
  await new Promise<void>(resolve => socket.bind(0, HERE, resolve));
  socket.setMulticastInterface(HERE);
  // Table 9-10 of E1.31: 239.255 and the two bytes of the universe, 481 = 0x01e1.
  for (const [to, level] of [
    ['239.255.1.225', 100],
    [HERE, 20],
  ] as const) {
    const { buffer } = new Packet({
      universe: 481,
      payload: { 512: level },
      sourceName: `npm ${level}`,
      priority: 100,
      sequence: 1,
      cid: Buffer.alloc(16, level),
    });
    const before = levels?.sources.length ?? 0;
    socket.send(buffer, 5568, to);
    for (let i = 0; i < 200 && levels?.sources.length === before; i++) await sleep(10);
  }
  expect(levels?.levels[511]).toBe(255);
  expect(levels?.sources.map(({ name, leads }) => [name, leads])).toEqual([
    ['npm 100', true],
    ['npm 20', true],
  ]);
});

test('the synchronization address of a desk is joined too, and left with the next show', async () => {
  const { desk, clock } = deskOf([plan()]);
  desk.tend(clock.nowS);
  const socket = createSocket('udp4');
  open.push(socket);
  await new Promise<void>(resolve => socket.bind(0, HERE, resolve));
  socket.setMulticastInterface(HERE);
  const universe = desk.universes[0];
  const [data, sync] = [
    sacnBytes(10, { syncAddress: 6482 }),
    createSyncPacket(new Uint8Array(16).fill(1), 6482),
  ];
  // 6482 = 0x1952: by multicast only.
  const send = async (level: number) => {
    data.slots.fill(level);
    data.advanceSequence();
    sync.advanceSequence();
    socket.send(data.buffer, 5568, HERE);
    socket.send(sync.buffer, 5568, '239.255.25.82');
    clock.nowS += 0.5;
    desk.tend(clock.nowS);
    await sleep(10);
  };
  for (let i = 0; i < 100 && universe?.counters['waits-for-sync'] === 0; i++) await send(i);
  await send(200);
  expect(universe?.counters['waits-for-sync']).toBeGreaterThan(0);
  for (let i = 0; i < 100 && universe?.levels[0] !== 200; i++) await sleep(10);
  expect(universe?.levels[0]).toBe(200);
});

test('as an Art-Net node it answers polls with its ports, and takes what is sent to them', async () => {
  const ports = [0x0003, 0x0004, 0x0105, 0x0106, 0x0107, 0x0108, 0x0109];
  const plans = ports.map(universe => plan({ name: `p${universe}`, protocol: 'artnet', universe }));
  const { desk, clock } = deskOf(plans);
  desk.tend(clock.nowS);
  const controller = createSocket('udp4');
  open.push(controller);
  await new Promise<void>(resolve => controller.bind(6454, '127.0.48.9', resolve));
  const replies: Buffer[] = [];
  controller.on('message', bytes => replies.push(bytes));
  const { buffer, slots } = createDmxPacket({ portAddress: 0x0105, slotCount: 512 });
  slots.fill(42);
  controller.send(buffer, 6454, HERE);
  for (let i = 0; i < 100 && desk.universes[2]?.isHeard !== true; i++) await sleep(10);
  expect(desk.universes[2]?.levels[0]).toBe(42);
  controller.send(encodePoll(), 6454, HERE);
  for (let i = 0; i < 100 && replies.length < 3; i++) {
    desk.tend(clock.nowS);
    await sleep(10);
  }
  const read = replies.map(decodePollReply);
  expect(read.map(one => one.kind === 'poll-reply' && [one.bindIndex, one.outputs])).toEqual([
    [1, [0x0003, 0x0004]],
    [2, [0x0105, 0x0106, 0x0107, 0x0108]],
    [3, [0x0109]],
  ]);
  // GoodOutput of the first port of the second reply: levels come (art-net.org.uk, ArtPollReply, field 182).
  expect(replies.map(bytes => bytes[182])).toEqual([0, 0x80, 0]);
});
