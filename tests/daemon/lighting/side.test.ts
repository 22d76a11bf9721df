import type { Socket } from 'node:dgram';
import { afterEach, describe, expect, it } from 'vitest';
import { PairLight } from '../../../src/daemon/pair-light.js';
import { createShowLevels } from '../../../src/daemon/show-levels.js';
import { LEAVES, STAYS } from '../../../src/safety/leaving.js';
import { parseShow } from '../../../src/show/parse.js';
import { MINIMAL } from '../../show/base.js';
import { artnetPlan, BEAT_S, FakeSocket, Rig, sacnPlan, systemError } from './support.js';

/** Two lighting networks and the loopback, with cables that the test pulls. */
const NETWORKS: Readonly<Record<string, string>> = {
  eth0: '10.0.0.2',
  eth1: '10.0.1.2',
  lo: '127.0.0.1',
};
const pulled = new Set<string>();
let sockets: FakeSocket[] = [];
const make = () => {
  const socket = new FakeSocket();
  sockets.push(socket);
  return socket as unknown as Socket;
};
const seams = {
  socketFactory: make,
  listenerFactory: () => new FakeSocket() as unknown as Socket,
  readCarrier: (name: string) => !pulled.has(name),
  findInterface: (name: string) => {
    const address = NETWORKS[name];
    if (address === undefined) return undefined;
    const broadcast = address.replace(/\d+$/, '255');
    return { name, address, loopback: name === 'lo', netmask: '255.255.255.0', broadcast };
  },
};
let rig: Rig;
const open = async (outputs: Rig['options']['outputs'], standby = false) => {
  rig = await Rig.open({ outputs, standby, ...seams });
  return rig.output.sides;
};
const BOTH = [
  sacnPlan({ name: 'a', interface: 'eth0', to: 'multicast' }),
  sacnPlan({
    name: 'b',
    interface: 'eth1',
    to: 'multicast',
    universes: [{ index: 1, onWire: 6102 }],
  }),
];
afterEach(async () => {
  pulled.clear();
  sockets = [];
  await rig.close();
});

describe('the parts that a machine of a pair plays', () => {
  it('are one for each network that it hears, and one in all where it is deaf on one', async () => {
    expect((await open(BOTH)).map(({ name }) => name)).toEqual(['eth0', 'eth1']);
    await rig.close();
    expect((await open(BOTH, true)).map(({ name }) => name)).toEqual(['eth0', 'eth1']);
    await rig.close();
    const local = artnetPlan({ interface: 'lo', to: ['127.0.0.1'] });
    expect((await open([...BOTH, local], false)).map(({ name }) => name)).toEqual([
      'eth0',
      'eth1',
      'lo',
    ]);
    await rig.close();
    expect((await open([...BOTH, local], true)).map(({ name }) => name)).toEqual([
      'eth0, lo',
      'eth1',
    ]);
    await rig.close();
    const deaf = artnetPlan({ interface: 'eth1', to: ['10.0.1.9'] });
    expect((await open([BOTH[0] as (typeof BOTH)[0], deaf])).map(({ name }) => name)).toEqual(['']);
  });

  it('end where a cable is out, and begin below the standby, while the other network is led', async () => {
    const parsed = parseShow(MINIMAL, 'a.show.yaml');
    if (!parsed.ok) throw new Error('not valid');
    const levels = createShowLevels(parsed.show);
    await open(BOTH);
    const pair = new PairLight(false, rig.output, rig.nowS, false);
    const beat = async (seconds: number) => {
      const changes = [];
      for (let i = 0; i < seconds / BEAT_S; i++) {
        changes.push(...pair.lookBack(rig.nowS), ...pair.step(levels, rig.nowS));
        await rig.beat();
      }
      return changes;
    };
    /** Of the last packet of a universe. */
    const priority = (universe: number) =>
      sockets
        .flatMap(({ sent }) => sent)
        .findLast(({ bytes }) => bytes.length === 638 && bytes.readUInt16BE(113) === universe)
        ?.bytes[108];
    expect(await beat(3)).toEqual([]);
    expect([priority(6101), priority(6102), pair.leads(rig.nowS)]).toEqual([100, 100, true]);

    pulled.add('eth1');
    expect(await beat(1)).toEqual([]);
    expect(await beat(3)).toEqual([{ from: 'leading', to: 'listening', interface: 'eth1' }]);
    expect(pair.leads(rig.nowS)).toBe(false);
    pulled.clear();
    await beat(0.5);
    expect([priority(6101), priority(6102)]).toEqual([100, 98]);
    // There is no standby: after the time to listen it leads there again, and that is news.
    expect(await beat(2)).toEqual([{ from: 'listening', to: 'leading', interface: 'eth1' }]);
    expect([priority(6101), priority(6102), pair.leads(rig.nowS)]).toEqual([100, 100, true]);
  });
});

it('a standby sends Art-Net on the network where the main machine falls silent, and on no other', async () => {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  const to = ['10.0.0.1', '10.0.0.2', '10.0.1.1', '10.0.1.2'];
  const sides = await open(
    [0, 1].map(i =>
      artnetPlan({ interface: `eth${i}`, to, universes: [{ index: i, onWire: 0x20 + i }] }),
    ),
    true,
  );
  const pair = new PairLight(true, rig.output, rig.nowS, false);
  const heard = [true, true];
  const beat = async (seconds: number) => {
    const changes = [];
    for (const { sent: before } of sockets) before.splice(0);
    for (let i = 0; i < seconds / BEAT_S; i++) {
      sides.forEach(({ partner }, at) => {
        if (heard[at]) partner.hear(at, new Uint8Array(512), rig.nowS);
      });
      changes.push(...pair.lookBack(rig.nowS), ...pair.step(levels, rig.nowS));
      await rig.beat();
    }
    return changes;
  };
  /** Port-Addresses of the ArtDmx packets (OpCode 0x5000) of the last beats. */
  const sent = () => [
    ...new Set(
      sockets
        .flatMap(one => one.sent)
        .filter(({ bytes }) => bytes.readUInt16LE(8) === 0x5000)
        .map(({ bytes }) => bytes.readUInt16LE(14)),
    ),
  ];
  expect([await beat(3), sent()]).toEqual([[], []]);
  heard[1] = false;
  expect(await beat(3)).toEqual([{ from: 'standing-by', to: 'standing-in', interface: 'eth1' }]);
  expect(sent()).toEqual([0x21]);
  pair.take(rig.output, rig.nowS);
  expect([await beat(1), sent()]).toEqual([[], [0x21]]);
  heard[1] = true;
  expect(await beat(1)).toEqual([{ from: 'standing-in', to: 'standing-by', interface: 'eth1' }]);
  expect([await beat(2), sent()]).toEqual([[], []]);
});

it('a main machine that listens after an outage holds Art-Net at what receivers have, and not at its start', async () => {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  await open([artnetPlan({ interface: 'eth1', to: ['10.0.1.1', '10.0.1.2'] })]);
  const pair = new PairLight(false, rig.output, rig.nowS, false);
  /** What the limiter is told of the universe, in each of the beats. */
  const beat = async (seconds: number) => {
    const ways = new Set<number>();
    for (let i = 0; i < seconds / BEAT_S; i++) {
      pair.lookBack(rig.nowS);
      pair.step(levels, rig.nowS);
      ways.add(rig.output.cutOff().universes[0] as number);
      await rig.beat();
    }
    return [...ways];
  };
  expect(await beat(3)).toEqual([LEAVES]);
  pulled.add('eth1');
  await beat(3);
  pulled.clear();
  expect(await beat(0.9)).toEqual([STAYS]);
  expect(await beat(2)).toEqual([STAYS, LEAVES]);
});

it('nodes are asked also where an Art-Net output lists nobody but ourselves', async () => {
  await open([artnetPlan({ interface: 'eth0', to: ['10.0.0.2'], poll: true })]);
  await rig.beatFor(3);
  const polls = sockets.flatMap(({ sent }) => sent).filter(({ bytes }) => bytes[9] === 0x20);
  expect(polls.map(({ address }) => address)).toEqual(['10.0.0.255', '10.0.0.255']);
});

it('a main machine whose Art-Net was refused for a while listens, and sends again', async () => {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  const plan = artnetPlan({ interface: 'eth0', to: ['10.0.0.1', '10.0.0.2'] });
  await open([plan]);
  const pair = new PairLight(false, rig.output, rig.nowS, false);
  const beat = async (seconds: number) => {
    for (let i = 0; i < seconds / BEAT_S; i++) {
      pair.lookBack(rig.nowS);
      pair.step(levels, rig.nowS);
      await rig.beat(1, all => all.fill(i & 0xff));
    }
  };
  /** ArtDmx packets (OpCode 0x5000) since the last call. */
  const sent = () =>
    sockets
      .flatMap(one => one.sent.splice(0))
      .filter(({ bytes }) => bytes.readUInt16LE(8) === 0x5000).length;
  const refuse = (sendError: Error | undefined) => {
    for (const socket of sockets) socket.sendError = sendError;
  };
  await beat(3);
  refuse(systemError('EPERM'));
  await beat(4);
  refuse(undefined);
  await beat(2);
  sent();
  await beat(1);
  expect(sent()).toBeGreaterThan(30);
});
