import type { Socket } from 'node:dgram';
import { afterEach, describe, expect, it } from 'vitest';
import { type PairChange, PairLight } from '../../../src/daemon/beats/pair-light.js';
import { Outages } from '../../../src/daemon/levels/outages.js';
import {
  createShowLevels,
  outputLimiterOf,
  stepBlend,
} from '../../../src/daemon/levels/show-levels.js';
import { LEAVES, STAYS, stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import { parseShow } from '../../../src/show/parse.js';
import { MINIMAL } from '../../show/base.js';
import { artnetPlan, BEAT_S, FakeSocket, Rig, sacnPlan, systemError, turn } from './support.js';

/** Two lighting networks and the loopback, with cables that the test pulls. */
const NETWORKS: Record<string, string> = {
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
const FRESH = { resumes: false, goesOn: false };
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
  it('are one for each network that it hears, deaf ones among them', async () => {
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
    const sides = await open([BOTH[0] as (typeof BOTH)[0], deaf]);
    expect(sides.map(({ name, canHear, isDeaf }) => [name, canHear, isDeaf])).toEqual([
      ['eth0', true, false],
      ['eth1', true, true],
    ]);
    await rig.close();
    expect((await open([deaf])).map(({ canHear, isDeaf }) => [canHear, isDeaf])).toEqual([
      [false, false],
    ]);
  });

  it('end where a cable is out, and begin below the standby, while the other network is led', async () => {
    const parsed = parseShow(MINIMAL, 'a.show.yaml');
    if (!parsed.ok) throw new Error('not valid');
    const levels = createShowLevels(parsed.show);
    await open(BOTH);
    const pair = new PairLight(false, rig.output, rig.nowS, FRESH);
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
    expect(pair.unsettled(rig.nowS)).toBeUndefined();

    pulled.add('eth1');
    expect(await beat(1)).toEqual([]);
    expect(await beat(3)).toEqual([
      { from: 'leading', to: 'listening', interface: 'eth1', withoutStandby: true },
    ]);
    expect(pair.leads(rig.nowS)).toBe(false);
    expect(pair.unsettled(rig.nowS)).toBe('this machine was still listening for a standby');
    // Its standby may have the light there: it hears of all here, and of stops once nothing leaves.
    expect(pair.tells(rig.nowS)).toBe('all');
    pulled.add('eth0');
    await beat(3);
    expect(pair.tells(rig.nowS)).toBe('own');
    pulled.delete('eth0');
    await beat(3);
    expect(pair.tells(rig.nowS)).toBe('all');
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
  const pair = new PairLight(true, rig.output, rig.nowS, FRESH);
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
  // Whatever it does, it is the standby: nothing is just passing.
  expect(pair.unsettled(rig.nowS)).toBe('this is the standby of two machines');
  heard[1] = false;
  expect(await beat(3)).toEqual([{ from: 'standing-by', to: 'standing-in', interface: 'eth1' }]);
  expect(sent()).toEqual([0x21]);
  const view = (phase: string, other: string) => ({ phase, other: { other } });
  expect(pair.look(rig.nowS)).toMatchObject([
    { interface: 'eth0', ...view('standing-by', 'heard'), sinceS: 1000 },
    { interface: 'eth1', ...view('standing-in', 'silent') },
  ]);
  pair.take(rig.output, rig.nowS);
  expect([await beat(1), sent()]).toEqual([[], [0x21]]);
  heard[1] = true;
  expect(await beat(1)).toEqual([{ from: 'standing-in', to: 'standing-by', interface: 'eth1' }]);
  expect([await beat(2), sent()]).toEqual([[], []]);
});

describe('a standby whose sACN receivers take', () => {
  async function begin() {
    const parsed = parseShow(MINIMAL, 'a.show.yaml');
    if (!parsed.ok) throw new Error('not valid');
    const levels = createShowLevels(parsed.show);
    const [side] = await open(
      [sacnPlan({ interface: 'eth0', to: 'multicast', universes: [{ index: 0, onWire: 6101 }] })],
      true,
    );
    if (side === undefined) throw new Error('no network');
    const pair = new PairLight(true, rig.output, rig.nowS, FRESH);
    const startS = rig.nowS;
    /** What is told, each with the seconds since the start; and how the main machine is heard meanwhile. */
    const beat = async (seconds: number, main: 'leads' | 'comes back' | 'silent') => {
      const told: (PairChange & { atS: number })[] = [];
      for (let i = 0; i < seconds / BEAT_S; i++) {
        const { nowS } = rig;
        if (main === 'leads') side.partner.hear(0, new Uint8Array(512), nowS, '10.0.0.1');
        if (main !== 'silent') side.partner.hearMain(main === 'comes back', nowS, '10.0.0.1');
        const changes = [...pair.lookBack(nowS), ...pair.step(levels, nowS)];
        told.push(...changes.map(one => ({ ...one, atS: nowS - startS })));
        await rig.beat();
      }
      return told;
    };
    return { pair, beat, side };
  }
  const about = (seconds: number) => expect.closeTo(seconds, 1) as number;

  it('that has never heard the main machine has the light from its start, and says so when it stops waiting', async () => {
    const { beat } = await begin();
    const [told, ...rest] = await beat(12, 'silent');
    expect(rest).toEqual([]);
    expect(told).toMatchObject({ to: 'standing-in', neverHeard: true });
    expect((told?.atS ?? 0) - (told?.hadLightForS ?? 0)).toBeCloseTo(0, 5);
  });

  it('that was started with the main machine says when that one is heard below it, and when it leads', async () => {
    const { beat, pair } = await begin();
    expect(await beat(1, 'silent')).toEqual([]);
    const [back] = await beat(6, 'comes back');
    expect(back).toMatchObject({ from: 'standing-by', to: 'standing-by', comesBack: true });
    expect((back?.atS ?? 0) - (back?.hadLightForS ?? 0)).toBeCloseTo(0, 5);
    // A stop that is given here meanwhile is told to the main machine.
    expect(pair.tells(rig.nowS)).toBe('all');
    const leads = await beat(6, 'leads');
    expect(leads).toEqual([
      { from: 'standing-by', to: 'standing-by', interface: 'eth0', atS: about(7) },
    ]);
    expect(await beat(2, 'leads')).toEqual([]);
  });

  it('is taken until the main machine leads by sACN, whatever Art-Net that one sends', async () => {
    const { beat, side } = await begin();
    await beat(1, 'comes back');
    side.partner.hear(0, new Uint8Array(512), rig.nowS, '10.0.0.1');
    side.partner.hearArtnet(rig.nowS);
    expect(await beat(1, 'comes back')).toEqual([]);
    expect(await beat(1, 'leads')).toMatchObject([{ from: 'standing-by', to: 'standing-by' }]);
    const stands = await beat(3, 'silent');
    expect(stands).toMatchObject([{ to: 'standing-in' }]);
    side.partner.hear(0, new Uint8Array(512), rig.nowS, '10.0.0.1');
    expect(await beat(1, 'comes back')).toMatchObject([{ to: 'standing-by', comesBack: true }]);
    const [leads] = await beat(1, 'leads');
    expect(leads).toEqual({ ...leads, from: 'standing-by', to: 'standing-by' });
    expect(leads).not.toHaveProperty('comesBack');
  });

  it('that stands in with what was heard of the main machine has the light from then on', async () => {
    const { beat } = await begin();
    await beat(2, 'leads');
    const [told] = await beat(4, 'silent');
    expect(told).toEqual({
      from: 'standing-by',
      to: 'standing-in',
      interface: 'eth0',
      atS: about(4.5),
    });
  });
});

describe('Art-Net that neither machine has sent', () => {
  /** Another machine is heard by sACN only, while the engine has the lamp at full. */
  async function begin(standby: boolean, goesOn = false) {
    const parsed = parseShow(MINIMAL, 'a.show.yaml');
    if (!parsed.ok) throw new Error('not valid');
    const levels = createShowLevels(parsed.show);
    const safe = levels.out[0] as number;
    const to = ['10.0.0.1', '10.0.0.2', '10.0.0.3'];
    const sides = await open(
      [
        sacnPlan({
          interface: 'eth0',
          to: 'multicast',
          universes: [{ index: 1, onWire: 6102 }],
        }),
        artnetPlan({ interface: 'eth0', to }),
      ],
      standby,
    );
    const pair = new PairLight(standby, rig.output, rig.nowS, { resumes: false, goesOn });
    const startS = rig.nowS;
    const changes: PairChange[] = [];
    const lamp: [number, number][] = [];
    const run = async (seconds: number, hears: (nowS: number) => void = () => undefined) => {
      for (const untilS = rig.nowS + seconds; rig.nowS < untilS - BEAT_S / 2; ) {
        hears(rig.nowS);
        levels.out[0] = 250;
        pair.lookBack(rig.nowS);
        changes.push(...pair.step(levels, rig.nowS));
        stepBlend(levels, BEAT_S);
        if (sides[0]?.holdsArtnet === false) lamp.push([rig.nowS - startS, levels.out[0]]);
        await rig.beat();
      }
    };
    const partner = sides[0]?.partner;
    if (partner === undefined) throw new Error('no network');
    return { safe, lamp, changes, run, partner };
  }

  it('is begun by the main machine beside a standby that waits, at the safe look', async () => {
    const { safe, lamp, changes, run, partner } = await begin(false);
    await run(6, nowS => partner.hear(1, new Uint8Array(512), nowS));
    const [atS = 0, level] = lamp[0] ?? [];
    expect(atS).toBeGreaterThan(1);
    expect(atS).toBeLessThan(2 + 2 * BEAT_S);
    // The first beat of the fade is in it.
    expect(level).toBeLessThan(safe + 10);
    expect(lamp.at(-1)?.[1]).toBe(250);
    const steps = lamp.map(([, one], i) => Math.abs(one - (lamp[i - 1]?.[1] ?? one)));
    expect(Math.max(...steps)).toBeLessThan(10);
    expect(changes).toEqual([
      { from: 'listening', to: 'joining', interface: 'eth0' },
      { from: 'joining', to: 'joining', interface: 'eth0', beginsArtnet: true },
    ]);
  });

  it('is left to a standby that sends it', async () => {
    const { lamp, run, partner } = await begin(false);
    await run(6, nowS => {
      partner.hear(0, new Uint8Array(512), nowS);
      partner.hearArtnet(nowS);
    });
    expect(lamp).toEqual([]);
  });

  it('is begun by a standby that never hears a main machine, at the safe look', async () => {
    const { safe, lamp, run } = await begin(true);
    await run(14);
    expect(lamp[0]?.[0]).toBeCloseTo(10, 1);
    expect(lamp[0]?.[1]).toBeLessThan(safe + 10);
    expect(lamp.at(-1)?.[1]).toBe(250);
  });

  it('is begun by a standby with a word of why: a main machine below it, or none', async () => {
    const below = await begin(true);
    await below.run(11, nowS => below.partner.hearMain(true, nowS, '10.0.0.3'));
    const stood = { from: 'standing-by', to: 'standing-in', interface: 'eth0' };
    // Receivers of its sACN take it before it begins with Art-Net.
    const taken = { ...stood, to: 'standing-by', comesBack: true };
    expect(below.changes).toMatchObject([taken, { ...stood, comesBack: true }]);
    expect(below.partner.at(rig.nowS)).toMatchObject({ other: 'comes back', address: '10.0.0.3' });
    await below.run(3);
    expect(below.partner.at(rig.nowS)).toMatchObject({ other: 'silent' });
    await rig.close();
    const none = await begin(true);
    await none.run(11);
    expect(none.changes).toMatchObject([{ ...stood, neverHeard: true }]);
  });

  it('goes on at its light where a main machine has been heard, or has been killed', async () => {
    const heard = await begin(true);
    await heard.run(1, nowS => heard.partner.hear(1, new Uint8Array(512), nowS));
    await heard.run(3);
    expect(heard.lamp[0]?.[1]).toBe(250);
    await rig.close();
    const killed = await begin(false, true);
    await killed.run(2);
    expect(killed.lamp[0]?.[1]).toBe(250);
  });
});

describe('a main machine that is about to end', () => {
  const start = async (outputs: Rig['options']['outputs'], standby = false) => {
    const parsed = parseShow(MINIMAL, 'a.show.yaml');
    if (!parsed.ok) throw new Error('not valid');
    const levels = createShowLevels(parsed.show);
    const sides = await open(outputs, standby);
    const pair = new PairLight(standby, rig.output, rig.nowS, FRESH);
    /** Two seconds of it, with the other machine heard, or none. */
    const beat = async (theirs?: Uint8Array) => {
      for (let i = 0; i < 2 / BEAT_S; i++) {
        if (theirs !== undefined) sides[0]?.partner.hear(0, theirs, rig.nowS);
        pair.lookBack(rig.nowS);
        pair.step(levels, rig.nowS);
        await rig.beat();
      }
      return [pair.seekStandby(rig.nowS), pair.isCovered(levels, rig.nowS)];
    };
    return { levels, beat };
  };
  const one = sacnPlan({ interface: 'eth0', to: 'multicast' });

  it('is covered by a standby that sends the same, and by no other', async () => {
    const { levels, beat } = await start([one]);
    expect(await beat()).toEqual([false, false]);
    const same = levels.wire.slice(0, 512);
    expect(await beat(same)).toEqual([true, true]);
    // Lit 10 per cent more, as one is that a cue has not reached.
    expect(await beat(same.map(level => Math.min(255, level + 26)))).toEqual([true, false]);
    expect(await beat(same)).toEqual([true, true]);
    // Silent for longer than E1.31 6.7.1 lets a source be.
    await beat();
    expect(await beat()).toEqual([false, false]);
  });

  it('is not where a network has no standby, and a standby itself never is', async () => {
    const two = await start(BOTH);
    expect((await two.beat(two.levels.wire.slice(0, 512)))[0]).toBe(false);
    await rig.close();
    const standby = await start([one], true);
    expect((await standby.beat(standby.levels.wire.slice(0, 512)))[0]).toBe(false);
  });
});

it('a main machine that listens after an outage holds Art-Net at what receivers have, and not at its start', async () => {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  await open([artnetPlan({ interface: 'eth1', to: ['10.0.1.1', '10.0.1.2'] })]);
  const pair = new PairLight(false, rig.output, rig.nowS, FRESH);
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

describe('a cable that is out on a network where nobody is heard', () => {
  const outputs = [
    sacnPlan({ name: 'a', interface: 'eth0', to: 'multicast' }),
    artnetPlan({
      interface: 'eth0',
      to: ['10.0.0.9', '10.0.0.1', '10.0.0.2'],
      universes: [{ index: 1, onWire: 0x21 }],
    }),
    sacnPlan({
      name: 'b',
      interface: 'eth1',
      to: ['10.0.1.9'],
      universes: [{ index: 2, onWire: 6102 }],
    }),
  ];
  const start = async (standby: boolean) => {
    const parsed = parseShow(MINIMAL, 'a.show.yaml');
    if (!parsed.ok) throw new Error('not valid');
    const levels = createShowLevels(parsed.show);
    const sides = await open(outputs, standby);
    const pair = new PairLight(standby, rig.output, rig.nowS, FRESH);
    let heard = standby;
    const beat = async (seconds: number) => {
      for (const { sent: before } of sockets) before.splice(0);
      for (let i = 0; i < seconds / BEAT_S; i++) {
        if (heard) sides[0]?.partner.hear(0, new Uint8Array(512), rig.nowS);
        pair.lookBack(rig.nowS);
        pair.step(levels, rig.nowS);
        await rig.beat(1, all => all.fill(i & 0xff));
      }
      const all = sockets.flatMap(one => one.sent);
      const last = (universe: number) =>
        all.findLast(({ bytes }) => bytes.length === 638 && bytes.readUInt16BE(113) === universe)
          ?.bytes[108];
      const artnet = all.filter(({ bytes }) => bytes.readUInt16LE(8) === 0x5000).length;
      return [last(6101), last(6102), artnet > 0];
    };
    return { beat, silence: () => (heard = false) };
  };

  it('takes no Art-Net off another, and comes back below a standby', async () => {
    const { beat } = await start(false);
    await beat(3);
    expect(await beat(1)).toEqual([100, 100, true]);
    pulled.add('eth1');
    await beat(3);
    expect((await beat(1)).filter((_, i) => i !== 1)).toEqual([100, true]);
    pulled.clear();
    expect(await beat(0.5)).toEqual([100, 98, true]);
    await beat(1);
    expect(await beat(1)).toEqual([100, 100, true]);
  });

  it('keeps no standby from standing in on another', async () => {
    const { beat, silence } = await start(true);
    expect((await beat(3))[2]).toBe(false);
    pulled.add('eth1');
    await beat(3);
    silence();
    await beat(3);
    expect((await beat(1))[2]).toBe(true);
  });
});

it('an interface that has no address yet may be one by which the standby is heard', async () => {
  const { eth1: address = '' } = NETWORKS;
  delete NETWORKS.eth1;
  const plans = [sacnPlan({ interface: 'eth1', to: ['10.0.1.9', '10.0.1.1', '10.0.1.2'] })];
  rig = await Rig.open({ outputs: plans, mayBeLost: true, ...seams });
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  const pair = new PairLight(false, rig.output, rig.nowS, FRESH);
  const beat = async (seconds: number) => {
    for (let i = 0; i < seconds / BEAT_S; i++) {
      pair.lookBack(rig.nowS);
      pair.step(levels, rig.nowS);
      await rig.beat();
    }
  };
  await beat(6);
  NETWORKS.eth1 = address;
  await beat(1.9);
  const sent = sockets.flatMap(one => one.sent).filter(({ bytes }) => bytes.length === 638);
  expect(sent[0]?.bytes[108]).toBe(98);
  expect([...new Set(sent.map(one => one.address))]).toEqual(['10.0.1.9', '10.0.1.1']);
  expect(rig.output.sides.map(({ canHear }) => canHear)).toEqual([true]);
});

it('a standby that is lost while the main machine joins: its light goes on below, and fades to ours', async () => {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  const sides = await open([sacnPlan({ interface: 'eth0', to: 'multicast' })]);
  const pair = new PairLight(false, rig.output, rig.nowS, FRESH);
  const theirs = new Uint8Array(512).fill(250);
  const ours = Uint8Array.from(levels.out);
  const own = ours[0] as number;
  /** What is sent for the lamp in each beat. */
  const beat = async (seconds: number, heard: boolean) => {
    const lamp: number[] = [];
    for (let i = 0; i < Math.round(seconds / BEAT_S); i++) {
      if (heard) sides[0]?.partner.hear(0, theirs, rig.nowS);
      levels.out.set(ours);
      pair.lookBack(rig.nowS);
      pair.step(levels, rig.nowS);
      stepBlend(levels, BEAT_S);
      rig.output.send(levels.out, rig.nowS);
      lamp.push(levels.out[0] as number);
      rig.nowS += BEAT_S;
      await turn();
    }
    return lamp;
  };
  expect(new Set(await beat(0.6, true))).toEqual(new Set([own]));
  // No keep-alive for 1.1 s (E1.31 6.6.2); receivers let it go after 2.5 s (6.7.1).
  await beat(1.2, false);
  expect(new Set(await beat(1.2, false))).toEqual(new Set([250]));
  // Heard again it is what receivers take: ours is sent below it as before.
  expect((await beat(0.1, true)).at(-1)).toBe(own);
  await beat(1.2, false);
  const faded = await beat(4, false);
  expect(faded[0]).toBe(250);
  expect(faded.at(-1)).toBe(own);
  const steps = faded.map((level, i) => Math.abs(level - (faded[i - 1] ?? level)));
  expect(Math.max(...steps)).toBeLessThan(10);
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
  const pair = new PairLight(false, rig.output, rig.nowS, FRESH);
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

/** One machine of a pair that sends Art-Net, and its light in beats: what left by Art-Net, and the parts that changed. */
async function artnetMachine(outputs: Rig['options']['outputs'], standby: boolean) {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const levels = createShowLevels(parsed.show);
  levels.fallback.phase = 'live';
  const sides = await open(outputs, standby);
  const pair = new PairLight(standby, rig.output, rig.nowS, FRESH);
  const all = new Uint8Array(512 * rig.options.universeCount);
  const outages = new Outages(rig.options.universeCount);
  const limiter = outputLimiterOf(parsed.show, levels.plan, all);
  const changes: PairChange[] = [];
  /** @param heard by which sides the other machine is heard, whose light is ours where it is alike */
  const beat = async (seconds: number, level: number, heard: readonly number[] = []) => {
    for (let i = 0; i < Math.round(seconds / BEAT_S); i++) {
      for (const side of heard) sides[side]?.partner.hear(0, levels.out, rig.nowS);
      changes.push(...pair.lookBack(rig.nowS), ...pair.step(levels, rig.nowS));
      all.fill(0);
      for (let at = 0; at < all.length; at += 512) all[at] = level;
      stepOutputLimiter(
        limiter,
        all,
        BEAT_S,
        rig.nowS,
        outages.look(rig.output.cutOff(), rig.nowS),
      );
      outages.take();
      rig.output.send(all, rig.nowS);
      rig.nowS += BEAT_S;
      await turn();
    }
    const packets = sockets.flatMap(one => (one.sendError ? [] : one.sent.splice(0)));
    const artnet = packets.filter(({ bytes }) => bytes.readUInt16LE(8) === 0x5000);
    const told = changes
      .splice(0)
      .map(({ to, artnetRefused }) => (artnetRefused ? [to, 'refused'] : [to]));
    return { lamp: artnet.map(({ bytes }) => bytes[18] ?? -1), told: told.flat(), packets };
  };
  return { beat, pair };
}

const BOTH_MACHINES = ['10.0.0.1', '10.0.0.2', '10.0.0.9'];
const ARTNET = artnetPlan({ interface: 'eth0', to: BOTH_MACHINES, poll: true });

describe('a standby that stands in on Art-Net, and whose own cable goes out', () => {
  it('goes on where receivers have it once it has listened, and not at what it would show by then', async () => {
    const { beat } = await artnetMachine([ARTNET], true);
    await beat(1, 200, [0]);
    expect((await beat(4, 200)).told).toEqual(['standing-in']);
    expect(new Set((await beat(1, 200)).lamp)).toEqual(new Set([200]));
    pulled.add('eth0');
    await beat(4, 200);
    await beat(1, 0);
    pulled.clear();
    expect((await beat(2.4, 0)).lamp).toEqual([]);
    const { lamp, told } = await beat(1, 0);
    expect(told).toEqual(['standing-in']);
    expect(lamp[0]).toBeGreaterThan(130);
    expect(lamp.at(-1)).toBe(0);
    const steps = lamp.map((level, i) => Math.abs(level - (lamp[i - 1] ?? 200)));
    expect(Math.max(...steps)).toBeLessThanOrEqual(64);
  });

  it('sends nothing where the main machine has come back meanwhile', async () => {
    const { beat } = await artnetMachine([ARTNET], true);
    await beat(1, 200, [0]);
    await beat(4, 200);
    pulled.add('eth0');
    await beat(4, 0);
    pulled.clear();
    expect((await beat(0.9, 0)).lamp).toEqual([]);
    expect(await beat(9, 0, [0])).toMatchObject({ lamp: [], told: [] });
    // What receivers have by now is the light of the main machine.
    const { lamp } = await beat(4, 0);
    expect(new Set(lamp)).toEqual(new Set([0]));
  });
});

describe('Art-Net that stays refused', () => {
  const refuse = (sendError: Error | undefined) => {
    for (const socket of sockets) socket.sendError = sendError;
  };

  it.each([
    ['Art-Net only', [ARTNET]],
    [
      'sACN beside it, which passes',
      [
        sacnPlan({ interface: 'eth0', to: 'multicast' }),
        { ...ARTNET, universes: [{ index: 1, onWire: 0x423 }] },
      ],
    ],
  ])("of a main machine is the standby's, steadily, until it passes: %s", async (_, outputs) => {
    const { beat } = await artnetMachine(outputs, false);
    const heard = outputs.length > 1 ? [0] : [];
    await beat(4, 200, heard);
    const isArtnet = (bytes: Buffer) => bytes.toString('latin1', 0, 7) === 'Art-Net';
    for (const socket of sockets) socket.refuses = isArtnet;
    const { told } = await beat(4, 200, heard);
    // The standby takes its place, and is heard: 60 s, with some tries.
    const first = await beat(1, 200, [0]);
    expect([...told, ...first.told].slice(-2)).toEqual(['joining', 'refused']);
    expect(await beat(60, 200, [0])).toMatchObject({ told: [] });
    for (const socket of sockets) socket.refuses = undefined;
    const after = await beat(65, 200, [0]);
    expect(after.told).toEqual(['leading']);
    expect(after.lamp.length).toBeGreaterThan(0);
  });

  it('of a standby goes on being tried, and is no change of its part', async () => {
    const { beat } = await artnetMachine([ARTNET], true);
    await beat(1, 200, [0]);
    refuse(systemError('EPERM'));
    expect((await beat(30, 200)).told).toEqual(['standing-in']);
    refuse(undefined);
    const { lamp, told } = await beat(1, 200);
    expect([lamp.length > 10, told]).toEqual([true, []]);
  });
});

it('Art-Net on a network where the standby can not be heard begins where it was, while another network is led', async () => {
  const { beat } = await artnetMachine(
    [
      { ...ARTNET, interface: 'eth1', to: ['10.0.1.9'] },
      { ...ARTNET, name: 'other', universes: [{ index: 1, onWire: 0x424 }] },
    ],
    false,
  );
  await beat(4, 200);
  await beat(1, 200, [1]);
  pulled.add('eth1');
  await beat(1, 200, [1]);
  await beat(5, 0, [1]);
  pulled.clear();
  const { packets } = await beat(3, 0, [1]);
  const lamp = packets
    .filter(({ bytes, address }) => bytes.readUInt16LE(8) === 0x5000 && address === '10.0.1.9')
    .map(({ bytes }) => bytes[18] ?? -1);
  const steps = lamp.map((level, i) => Math.abs(level - (lamp[i - 1] ?? 200)));
  expect(lamp.at(-1)).toBe(0);
  expect(Math.max(...steps)).toBeLessThanOrEqual(64);
});
