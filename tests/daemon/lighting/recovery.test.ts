import type { Socket } from 'node:dgram';
import { afterEach, describe, expect, it } from 'vitest';
import { findInterface, type LightingInterface } from '../../../src/daemon/lighting/interfaces.js';
import { LightingOutput } from '../../../src/daemon/lighting/lighting-output.js';
import type { FallbackChannel } from '../../../src/safety/fallback.js';
import { createOutputLimiter, stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import {
  artnetPlan,
  FakeSocket,
  Listener,
  LOOPBACK,
  OURS,
  Rig,
  sacnPlan,
  systemError,
  turn,
} from './support.js';

let rig: Rig | undefined;

afterEach(async () => {
  await rig?.close();
  rig = undefined;
});

/** A network of fake sockets, whose interface can be taken away. */
function fakeNetwork(prepare: (socket: FakeSocket, count: number) => void = () => undefined) {
  const sockets: FakeSocket[] = [];
  const network = {
    sockets,
    interface: findInterface(OURS) as LightingInterface | undefined,
    last: () => sockets.at(-1) ?? new FakeSocket(),
    seams: {
      findInterface: () => network.interface,
      socketFactory: () => {
        const socket = new FakeSocket();
        sockets.push(socket);
        prepare(socket, sockets.length);
        // It has the methods that a lighting socket calls, and no others.
        return socket as unknown as Socket;
      },
    },
  };
  return network;
}

const changing = (levels: Uint8Array, beat: number) => levels.fill(beat);

/** An interface of a network, with a mask; on the loopback interface some things are other. */
const onNetwork = (netmask: string, broadcast: string): LightingInterface => ({
  name: 'light',
  address: OURS,
  loopback: false,
  netmask,
  broadcast,
});

describe('at the start', () => {
  it('another program has the Art-Net port: levels leave by another one, with polls off too', async () => {
    const network = fakeNetwork((socket, count) => {
      if (count === 1) socket.bindError = systemError('EADDRINUSE');
    });
    network.interface = onNetwork('255.255.255.0', `${LOOPBACK}.61.255`);
    rig = await Rig.open({ outputs: [artnetPlan({ poll: false })], ...network.seams });
    await rig.beat(4, changing);
    expect(rig.events).toEqual([{ kind: 'poll-port-taken', interface: OURS }]);
    expect(network.sockets[0]?.boundTo).toMatchObject({ address: OURS, port: 6454 });
    expect(network.last().boundTo).toMatchObject({ address: OURS, port: 0 });
    expect(network.last().sent.map(({ address }) => address)).toEqual(
      new Array(4).fill(`${LOOPBACK}.61.2`),
    );
  });

  it.each([
    { plan: sacnPlan, mask: '255.255.255.128', broadcast: `${LOOPBACK}.61.127` },
    { plan: artnetPlan, mask: '255.255.192.0', broadcast: `${LOOPBACK}.63.255` },
  ])(
    'nothing is sent to the broadcast address of the network: $broadcast',
    async ({ plan, mask, broadcast }) => {
      const network = fakeNetwork();
      network.interface = onNetwork(mask, broadcast);
      // A host of either network, whatever it looks like.
      const to = [`${LOOPBACK}.61.2`, broadcast];
      rig = await Rig.open({ outputs: [plan({ to })], ...network.seams });
      const { name: output } = plan();
      const told = { kind: 'broadcast-left-out', interface: OURS, address: broadcast, output };
      expect(rig.events).toEqual([told]);
      await rig.beat(4, changing);
      const levels = () =>
        network.sockets.flatMap(({ sent }) => sent.filter(({ bytes }) => bytes.length > 500));
      expect(levels().map(({ address }) => address)).toEqual(new Array(4).fill(`${LOOPBACK}.61.2`));
    },
  );

  it('an interface that comes back with another mask has another broadcast address', async () => {
    const network = fakeNetwork();
    network.interface = onNetwork('255.0.0.0', '127.255.255.255');
    const to = [`${LOOPBACK}.61.2`, `${LOOPBACK}.61.255`];
    rig = await Rig.open({ outputs: [sacnPlan({ to })], ...network.seams });
    await rig.beat(4, changing);
    // In a /8 it is a host like others.
    expect(
      network.last().sent.filter(({ address }) => address === `${LOOPBACK}.61.255`),
    ).toHaveLength(4);
    network.interface = undefined;
    await rig.beatFor(2);
    network.interface = onNetwork('255.255.255.0', `${LOOPBACK}.61.255`);
    await rig.beatFor(2);
    expect(rig.kinds()).toEqual(['interface-lost', 'interface-back', 'broadcast-left-out']);
    const since = network.last().sent.filter(({ bytes }) => bytes.length > 500);
    expect(since.length).toBeGreaterThan(0);
    expect(new Set(since.map(({ address }) => address))).toEqual(new Set([`${LOOPBACK}.61.2`]));
  });

  it('all that is wrong is told at once, with what there is', async () => {
    const missing = { interface: '203.0.113.9' };
    const { options } = new Rig({
      outputs: [
        sacnPlan(missing),
        sacnPlan({ name: 'balcony' }),
        artnetPlan(missing),
        sacnPlan({ name: 'pit', interface: 'nosuch0' }),
      ],
    });
    const opened = await LightingOutput.open(options);
    expect(opened).toEqual({
      ok: false,
      problems: [
        expect.stringMatching(
          /^output "stage" and "practicals" can't send from interface 203\.0\.113\.9: this machine has no such interface; it has .*lo.* \(127\.0\.0\.1\)/,
        ),
        expect.stringMatching(/^output "pit" can't send from interface nosuch0: /),
      ],
    });
  });

  it('nothing stays open if one output fails', async () => {
    const network = fakeNetwork((socket, count) => {
      if (count === 2) socket.bindError = systemError('EACCES');
    });
    const { options } = new Rig({
      outputs: [sacnPlan(), sacnPlan({ name: 'pit', interface: `${LOOPBACK}.61.8` })],
      socketFactory: network.seams.socketFactory,
    });
    const opened = await LightingOutput.open(options);
    expect(opened).toMatchObject({ ok: false, problems: [expect.stringContaining('send EACCES')] });
    expect(network.sockets.map(socket => socket.closed)).toEqual([true, true]);
  });

  it('a factory that throws is a problem, not a crash', async () => {
    const socketFactory = (): never => {
      throw systemError('EMFILE');
    };
    const opened = await LightingOutput.open(
      new Rig({ outputs: [sacnPlan()], socketFactory }).options,
    );
    expect(opened).toMatchObject({ ok: false, problems: [expect.stringContaining('EMFILE')] });
  });
});

it('a universe that is left to another machine lacks nothing', async () => {
  rig = await Rig.open({ outputs: [sacnPlan()], universeCount: 2, ...fakeNetwork().seams });
  expect([...rig.output.cutOff().universes]).toEqual([0, 0]);
});

describe('an interface that goes away', () => {
  it('is lost once, looked for every second, and begins anew when it is back', async () => {
    const network = fakeNetwork();
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beatFor(5);
    expect([...rig.output.cutOff().universes]).toEqual([0]);
    const there = network.interface;
    network.interface = undefined;
    await rig.beatFor(5);
    expect([...rig.output.cutOff().universes]).toEqual([1]);
    expect(rig.events).toEqual([
      { kind: 'interface-lost', interface: OURS, reason: 'the interface is gone' },
    ]);
    expect(network.sockets.map(socket => socket.closed)).toEqual([true]);
    expect(rig.output.counters.interfaces[0]?.skippedLost).toBeGreaterThanOrEqual(4);

    network.interface = there;
    await rig.beatFor(1.1);
    expect([...rig.output.cutOff().universes]).toEqual([0]);
    expect(rig.events.slice(1)).toEqual([
      { kind: 'interface-back', interface: OURS, address: OURS },
    ]);
    expect(rig.output.counters.interfaces[0]?.reopened).toBe(1);
    // Not a keep-alive somewhen in the next second: the levels, Universe Discovery and three repeats.
    expect(network.sockets[1]?.sent.map(({ bytes }) => bytes.length)).toEqual([
      638, 122, 638, 638, 638,
    ]);
  });

  it('without a carrier sends nothing new after 0.2 s, though the system takes every packet', async () => {
    const network = fakeNetwork();
    let carrier = true;
    rig = await Rig.open({
      outputs: [sacnPlan()],
      ...network.seams,
      readCarrier: () => carrier,
    });
    await rig.beatFor(2);
    carrier = false;
    let beats = 0;
    while (rig.output.cutOff().universes[0] === 0) {
      await rig.beat();
      beats += 1;
    }
    // It is looked at 5 times a second; the sum of the beats may round to one more.
    expect(beats).toBeLessThanOrEqual(9);
    expect(rig.kinds()).toEqual(['carrier-lost']);
    expect([...rig.output.cutOff().universes]).toEqual([1]);
    carrier = true;
    await rig.beat(9);
    expect([...rig.output.cutOff().universes]).toEqual([0]);
    expect(network.sockets).toHaveLength(1);
  });

  it('that comes back with another address is bound there', async () => {
    const network = fakeNetwork();
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beatFor(1.5);
    network.interface = findInterface(`${LOOPBACK}.61.7`);
    await rig.beatFor(1.5);
    expect(rig.events).toEqual([
      { kind: 'interface-lost', interface: OURS, reason: 'its address has changed' },
      { kind: 'interface-back', interface: OURS, address: `${LOOPBACK}.61.7` },
    ]);
    expect(network.last().boundTo).toMatchObject({ address: `${LOOPBACK}.61.7` });
  });

  it('takes no other interface with it', async () => {
    let gone = false;
    rig = await Rig.open({
      outputs: [
        sacnPlan({ interface: `${LOOPBACK}.61.8` }),
        sacnPlan({ name: 'pit', to: [`${LOOPBACK}.61.3`] }),
      ],
      findInterface: wanted =>
        gone && wanted === `${LOOPBACK}.61.8` ? undefined : findInterface(wanted),
    });
    const listener = await Listener.open(5568, `${LOOPBACK}.61.3`);
    gone = true;
    await rig.beatFor(3);
    expect(rig.kinds()).toEqual(['interface-lost']);
    expect((await listener.all()).length).toBeGreaterThanOrEqual(5);
    listener.close();
  });
});

describe('a send that fails', () => {
  it.each(['EACCES', 'EPERM', 'ENOBUFS', 'EMSGSIZE'])(
    'with %s is counted and told once, and the socket stays',
    async code => {
      const network = fakeNetwork(socket => {
        socket.sendError = systemError(code);
      });
      rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
      for (let i = 0; i < 200; i++) {
        await rig.beat(1, changing.bind(undefined, rig.levels, i));
        await turn();
      }
      // 5 s: on the second beat; then each minute.
      const [discovery, first] = rig.events;
      expect(rig.kinds().slice(1)).toEqual(['send-failed']);
      const reason = `send ${code}`;
      expect(discovery).toMatchObject({ kind: 'errand-failed', errand: 'Universe Discovery' });
      expect(first).toMatchObject({ output: 'stage', interface: OURS, reason, count: 1, sent: 0 });
      expect(network.sockets).toHaveLength(1);
      expect(rig.output.counters.interfaces).toMatchObject([
        { packets: 0, bytes: 0, sendErrors: 201 },
      ]);
    },
  );

  it.each(['EPERM', 'EIO', 'ENOMEM', 'EMSGSIZE'])(
    'with %s takes the light no farther: it goes on from what was last sent, within the limits',
    async code => {
      const network = fakeNetwork();
      rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
      const channel: FallbackChannel = {
        slots: [0],
        class: 'intensity',
        safeRaw: 51,
        darkRaw: 0,
        stepped: false,
        dropsAtOnce: false,
      };
      const limiter = createOutputLimiter([channel], rig.levels);
      const wired: number[] = [];
      const beatTo = async (level: number) => {
        await rig?.beat(1, levels => {
          levels[0] = level;
          const cutOff = rig?.output.cutOff();
          stepOutputLimiter(limiter, levels, 0.025, rig?.nowS ?? 0, cutOff);
        });
        const { sent, sendError } = network.last();
        for (const { bytes } of sent.splice(0)) {
          if (sendError === undefined && bytes.length === 638) wired.push(bytes[126] ?? -1);
        }
      };
      for (let i = 0; i < 20; i++) await beatTo(217);
      network.last().sendError = systemError(code);
      for (let i = 0; i < 30; i++) await beatTo(51);
      network.last().sendError = undefined;
      for (let i = 0; i < 120; i++) await beatTo(51);
      expect(wired).toContain(217);
      expect(wired.at(-1)).toBe(51);
      // A tenth of a second for the whole range: 64 steps in a beat.
      const steps = wired.slice(1).map((level, i) => Math.abs(level - (wired[i] ?? 0)));
      expect(Math.max(...steps)).toBeLessThanOrEqual(64);
      // A beat after the system takes it again, not at the next keep-alive.
      expect(wired.filter(level => level < 217 && level > 51).length).toBeGreaterThan(1);
    },
  );

  it('of either protocol takes no number: what leaves goes on counting (E1.31 6.7.2)', async () => {
    const network = fakeNetwork();
    const artnet = artnetPlan({ interface: OURS, universes: [{ index: 1, onWire: 1 }] });
    rig = await Rig.open({ outputs: [sacnPlan(), artnet], ...network.seams });
    await rig.beat(10, changing);
    const { sent } = network.last();
    /** Of the last packet that left: sACN at 111, Art-Net at 12. */
    const last = (length: number, at: number) =>
      sent.findLast(({ bytes }) => bytes.length === length)?.bytes[at] ?? -1;
    const before = [last(638, 111), last(530, 12)];
    network.last().sendError = systemError('EPERM');
    // 240 packets: the next number would be 16 behind.
    await rig.beat(240, changing);
    network.last().sendError = undefined;
    await rig.beat(1, changing);
    expect([last(638, 111), last(530, 12)]).toEqual(before.map(number => number + 1));
    await rig.beat(1, changing);
    expect([last(638, 111), last(530, 12)]).toEqual(before.map(number => number + 2));
  });

  it('as on a dead interface makes a new socket, which mends it', async () => {
    const network = fakeNetwork((socket, count) => {
      if (count === 1) socket.sendError = systemError('ENETUNREACH');
    });
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beatFor(7);
    // The interface is there: nobody is told that it was lost.
    expect(rig.kinds().filter(kind => kind.startsWith('interface'))).toEqual([]);
    expect(new Set(rig.kinds())).toEqual(
      new Set(['errand-failed', 'send-failed', 'errand-sent', 'sent-again']),
    );
    expect(network.sockets.map(socket => socket.closed)).toEqual([true, false]);
    const sent = network.last().sent.length;
    expect(sent).toBeGreaterThan(4);
    expect(rig.output.counters.interfaces).toMatchObject([{ packets: sent, reopened: 1 }]);
  });

  it('on every new socket makes ever fewer of them', async () => {
    const network = fakeNetwork(socket => {
      socket.sendError = systemError('EINVAL');
    });
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beatFor(150);
    // A receiver that can't be reached is not a lost interface.
    expect(new Set(rig.kinds())).toEqual(new Set(['errand-failed', 'send-failed']));
    // After 1 s, then 2, 4, 8, 16 and 32 s later, and every 32 s from there.
    expect(network.sockets.length).toBeGreaterThanOrEqual(6);
    expect(network.sockets.length).toBeLessThanOrEqual(10);
  });

  it('to one receiver does not take the socket from the others', async () => {
    const network = fakeNetwork(socket => {
      const { send } = FakeSocket.prototype;
      socket.send = (bytes, port, address, done) => {
        socket.sendError = address === `${LOOPBACK}.61.3` ? systemError('ENETUNREACH') : undefined;
        send.call(socket, bytes, port, address, done);
      };
    });
    const to = [`${LOOPBACK}.61.3`, `${LOOPBACK}.61.2`];
    rig = await Rig.open({ outputs: [sacnPlan({ to })], ...network.seams });
    await rig.beatFor(10);
    expect(network.sockets).toHaveLength(1);
    expect(new Set(rig.kinds())).toEqual(new Set(['send-failed']));
  });

  it('for real (what is no address) ends nothing', async () => {
    rig = await Rig.open({
      outputs: [sacnPlan({ to: [`${LOOPBACK}.61.999`, `${LOOPBACK}.61.2`] })],
    });
    const listener = await Listener.open(5568, `${LOOPBACK}.61.2`);
    await rig.beatFor(2);
    expect(rig.kinds()).toContain('send-failed');
    expect((await listener.all()).length).toBeGreaterThanOrEqual(4);
    listener.close();
  });
});

describe('a socket', () => {
  it('that reports an error of its own is opened anew', async () => {
    const network = fakeNetwork();
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beatFor(1.5);
    network.last().emit('error', systemError('ENETDOWN'));
    await rig.beatFor(1.5);
    expect(rig.kinds()).toEqual(['interface-lost', 'interface-back']);
    expect(network.sockets.map(socket => socket.closed)).toEqual([true, false]);
  });

  it('that can not be opened anew is tried again', async () => {
    const network = fakeNetwork((socket, count) => {
      if (count > 1 && count < 5) socket.bindError = systemError('EADDRNOTAVAIL');
    });
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    network.last().emit('error', systemError('ENETDOWN'));
    await rig.beatFor(6);
    expect(rig.kinds()).toEqual(['interface-lost', 'interface-back']);
    expect(network.sockets.map(socket => socket.closed)).toEqual([true, true, true, true, false]);
  });

  it('that takes nothing is given no more than a beat, and what is left out is counted and told of', async () => {
    const network = fakeNetwork(socket => {
      socket.stuck = true;
    });
    const universes = Array.from({ length: 100 }, (_, index) => ({ index, onWire: index + 1 }));
    rig = await Rig.open({ outputs: [sacnPlan({ universes })], ...network.seams });
    await rig.beat(10, changing);
    // The first beat has Universe Discovery beside.
    expect(network.last().sent).toHaveLength(101);
    expect(rig.output.counters.interfaces).toMatchObject([{ packets: 0, skippedBusy: 900 }]);
    expect([...rig.output.cutOff().universes]).toEqual(universes.map(() => 1));
    await rig.beatFor(1);
    const reason = expect.stringContaining('send buffer is full');
    expect(rig.events).toEqual([
      {
        kind: 'send-failed',
        interface: OURS,
        output: 'stage',
        reason,
        count: 100,
        sent: 0,
        began: true,
      },
    ]);
  });

  it('that takes more again gets the levels that it had, and then those of now', async () => {
    const network = fakeNetwork();
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beat(3, (levels, beat) => levels.fill(10 + beat));
    network.last().stuck = true;
    await rig.beat(50, (levels, beat) => levels.fill(100 + beat));
    network.last().release();
    await turn();
    await rig.beat(2, levels => levels.fill(200));
    const packets = network.last().sent.filter(({ bytes }) => bytes.length === 638);
    const first = packets.map(({ bytes }) => bytes[126]);
    expect(first.slice(-6)).toEqual([10, 11, 12, 100, 200, 200]);
    // E1.31 6.7.2: no number is missing.
    const numbers = packets.slice(-6).map(({ bytes }) => bytes[111] ?? 0);
    expect(numbers.map((number, i) => number - i)).toEqual(new Array(6).fill(numbers[0]));
    expect([...rig.output.cutOff().universes]).toEqual([0]);
  });

  it('that was stuck and lost leaves no debt to the next', async () => {
    const network = fakeNetwork((socket, count) => {
      socket.stuck = count === 1;
    });
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    await rig.beat(100, changing);
    network.last().emit('error', systemError('ENETDOWN'));
    await rig.beatFor(2);
    const skipped = rig.output.counters.interfaces[0]?.skippedBusy;
    await rig.beatFor(10);
    expect(rig.output.counters.interfaces[0]?.skippedBusy).toBe(skipped);
    expect(network.last().sent.length).toBeGreaterThan(10);
  });

  it('closed in the midst of being opened anew stays closed', async () => {
    const network = fakeNetwork();
    rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
    network.last().emit('error', systemError('ENETDOWN'));
    rig.output.send(rig.levels, rig.nowS + 2);
    await rig.close();
    await turn();
    expect(network.sockets.map(socket => socket.closed)).toEqual([true, true]);
    expect(rig.kinds()).toEqual(['interface-lost']);
  });

  it('takes the port of the polls back when it is free again', async () => {
    const network = fakeNetwork((socket, count) => {
      if (count === 1) socket.bindError = systemError('EADDRINUSE');
    });
    rig = await Rig.open({ outputs: [artnetPlan({ poll: true })], ...network.seams });
    expect(rig.kinds()).toEqual(['poll-port-taken']);
    expect(network.last().boundTo).toMatchObject({ port: 0 });
    network.last().emit('error', systemError('ENETDOWN'));
    await rig.beatFor(2);
    expect(rig.kinds().slice(1)).toEqual(['interface-lost', 'interface-back']);
    expect(network.sockets.slice(2).map(socket => socket.boundTo)).toMatchObject([
      { address: OURS, port: 6454 },
      { address: '127.255.255.255', port: 6454 },
    ]);
  });
});

it('a cable that is pulled is told, and sending goes on', async () => {
  const network = fakeNetwork();
  let carrier: boolean | undefined = true;
  const asked: string[] = [];
  rig = await Rig.open({
    outputs: [sacnPlan()],
    ...network.seams,
    readCarrier: name => {
      asked.push(name);
      return carrier;
    },
  });
  await rig.beat(80, changing);
  expect(rig.events).toEqual([]);
  expect(asked).toContain('lo');
  carrier = false;
  await rig.beat(80, changing);
  expect(rig.kinds()).toEqual(['carrier-lost']);
  const before = network.last().sent.length;
  carrier = true;
  await rig.beat(80, changing);
  expect(network.last().sent.length).toBeGreaterThan(before + 70);
  // A system that does not say counts as one whose cable is in.
  carrier = undefined;
  await rig.beat(80, changing);
  expect(rig.kinds()).toEqual(['carrier-lost', 'carrier-back']);
});

it('is proven to send on every interface, a lost one excused', async () => {
  const network = fakeNetwork();
  rig = await Rig.open({ outputs: [sacnPlan()], ...network.seams });
  const { output } = rig;
  expect(output.hasSent()).toBe(false);
  await rig.beat(1);
  expect(output.hasSent()).toBe(true);
  expect(output.hasSent()).toBe(false);
  // A socket that takes datagrams and never says that they have left.
  network.last().stuck = true;
  await rig.beat(80, changing);
  expect(output.hasSent()).toBe(false);
  network.interface = undefined;
  await rig.beat(80, changing);
  expect(output.hasSent()).toBe(true);
});

describe('an interface that two outputs name, by its name and by its address, and that is missing at the start', () => {
  const plans = [
    sacnPlan({ interface: 'eth7' }),
    artnetPlan({ interface: OURS, universes: [{ index: 1, onWire: 0x0423 }] }),
  ];

  it('is one once it is there: the second line never opens it, and says that it is divided', async () => {
    const network = fakeNetwork();
    const { interface: there } = network;
    network.interface = undefined;
    const seams = { outputs: plans, mayBeLost: true, ...network.seams };
    const rig = await Rig.open(seams);
    await rig.beatFor(3);
    expect([rig.output.isDivided, rig.output.lost]).toEqual([false, ['eth7', OURS]]);
    network.interface = there;
    await rig.beatFor(3);
    expect([rig.output.isDivided, rig.output.lost]).toEqual([true, [OURS]]);
    // Opened anew they are one.
    await rig.close();
    const again = await Rig.open(seams);
    await again.beatFor(3);
    expect([again.output.isDivided, again.output.lost]).toEqual([false, []]);
    expect(again.output.counters.interfaces).toHaveLength(1);
    const levels = again.output.counters.streams.map(({ sent }) => sent > 0);
    expect(levels).toEqual([true, true]);
    await again.close();
  });

  it('is sent by once it is ours', async () => {
    let isOurs = false;
    const asked: string[] = [];
    const network = fakeNetwork();
    const { interface: there } = network;
    network.interface = undefined;
    const rig = await Rig.open({
      outputs: plans.slice(0, 1),
      mayBeLost: true,
      ...network.seams,
      admits: ({ name }) => {
        asked.push(name);
        return isOurs;
      },
    });
    network.interface = there;
    await rig.beatFor(3);
    expect([rig.output.lost, new Set(asked)]).toEqual([['eth7'], new Set(['lo'])]);
    isOurs = true;
    await rig.beatFor(2);
    expect(rig.output.lost).toEqual([]);
    await rig.close();
  });
});
