import type { Socket } from 'node:dgram';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { LastLook } from '../../../src/daemon/files/last-look.js';
import { findInterface } from '../../../src/daemon/lighting/interfaces.js';
import { LightingOutput } from '../../../src/daemon/lighting/lighting-output.js';
import type { SentStream } from '../../../src/daemon/lighting/streams.js';
import type { FallbackChannel, FallbackPlan } from '../../../src/safety/fallback.js';
import { DEFAULT_LIMITS } from '../../../src/safety/output-limiter.js';
import {
  artnetPlan,
  CID,
  FakeSocket,
  LOOPBACK,
  OURS,
  Rig,
  sacnPlan,
  systemError,
  turn,
} from './support.js';

/** Two outputs of one universe: sACN by one interface, Art-Net by the other, which is cut off in some way. */
const OTHER = `${LOOPBACK}.61.8`;
const DIMMER: FallbackChannel = {
  slots: [512],
  class: 'intensity',
  safeRaw: 51,
  darkRaw: 0,
  stepped: false,
  dropsAtOnce: false,
};
/** A head: dimmer, dark when safe, and pan. */
const HEAD: readonly FallbackChannel[] = [
  { ...DIMMER, slots: [520], safeRaw: 0 },
  { ...DIMMER, slots: [521], class: 'movement', safeRaw: 128 },
];
const PLAN: FallbackPlan = {
  fixtures: [
    { channels: [DIMMER], moves: false, safeIsDark: false, fadeS: undefined },
    { channels: HEAD, moves: true, safeIsDark: true, fadeS: undefined },
  ],
  levelCount: 1024,
  safeLook: new Uint8Array(1024).fill(51, 512, 513).fill(128, 521, 522),
  times: { fadeS: 0.5, returnS: 0.4, moveS: 0.5 },
  rearmS: 0.25,
};
const HEADER = { sacn: 126, artnet: 18 };
/** A tenth of a second for the whole range is 64 steps in a beat of 25 ms. */
const LARGEST = 64;

let rig: Rig | undefined;
afterEach(async () => {
  await rig?.close();
  rig = undefined;
});

/** A universe that is not the show's first, so that its slots lie elsewhere than in the packet. */
const universe = (onWire: number) => ({ universes: [{ index: 1, onWire }] });

class Network {
  isThere = true;
  carrier = true;
  readonly sockets: FakeSocket[] = [];
  readonly outputs = [
    sacnPlan(universe(6101)),
    artnetPlan({ ...universe(0x0423), interface: OTHER }),
  ];
  readonly seams = {
    outputs: this.outputs,
    findInterface: (wanted: string) =>
      wanted === OTHER && !this.isThere ? undefined : findInterface(wanted),
    readCarrier: () => this.carrier,
    socketFactory: () => {
      const socket = new FakeSocket();
      this.sockets.push(socket);
      // It has the methods that a lighting socket calls, and no others.
      return socket as unknown as Socket;
    },
    limited: () => ({ plan: PLAN, limits: DEFAULT_LIMITS, falls: () => false }),
  };

  of(address: string): FakeSocket {
    const all = this.sockets.filter(({ boundTo }) => boundTo?.address === address);
    return all.at(-1) ?? new FakeSocket();
  }

  /** Levels of one slot, the dimmer's, that have left since the last call, first those of the sACN output. */
  left(slot = 0): [number[], number[]] {
    const [sacn, artnet] = this.packets();
    const at = (header: number) => (bytes: Buffer) => bytes[header + slot] ?? -1;
    return [sacn.map(at(HEADER.sacn)), artnet.map(at(HEADER.artnet))];
  }

  packets(): [Buffer[], Buffer[]] {
    const take = (address: string, length: number) =>
      this.sockets
        .filter(({ boundTo }) => boundTo?.address === address)
        .flatMap(({ sent, sendError }) =>
          sent
            .splice(0)
            .filter(({ bytes }) => sendError === undefined && bytes.length === length)
            .map(({ bytes }) => Buffer.from(bytes)),
        );
    return [take(OURS, 638), take(OTHER, 530)];
  }
}

const steps = (levels: readonly number[]) =>
  levels.slice(1).map((level, i) => Math.abs(level - (levels[i] ?? 0)));

const CUTS: readonly [string, (network: Network) => void, (network: Network) => void][] = [
  [
    'blocked',
    network => {
      network.of(OTHER).sendError = systemError('EPERM');
    },
    network => {
      network.of(OTHER).sendError = undefined;
    },
  ],
  [
    'lost',
    network => {
      network.isThere = false;
    },
    network => {
      network.isThere = true;
    },
  ],
  [
    'stuck',
    network => {
      network.of(OTHER).stuck = true;
    },
    network => network.of(OTHER).release(),
  ],
];

it.each(CUTS)(
  'an output that was %s comes back within the limits, and the other goes on',
  async (_, cut, mend) => {
    const network = new Network();
    rig = await Rig.open(network.seams);
    const wired: number[] = [];
    const other: number[] = [];
    const beat = async (count: number, level: number) => {
      for (let i = 0; i < count; i++) {
        await rig?.beat(1, levels => levels.fill(level, 512, 513));
        const [sacn, artnet] = network.left();
        other.push(...sacn);
        wired.push(...artnet);
      }
    };
    await beat(10, 255);
    cut(network);
    await beat(60, 255);
    const from = other.length;
    await beat(60, 51);
    expect(other.slice(from)[0]).toBe(51);
    expect(wired).not.toContain(51);
    mend(network);
    await beat(120, 51);
    expect(wired[0]).toBe(255);
    expect(wired.at(-1)).toBe(51);
    expect(Math.max(...steps(wired))).toBeLessThanOrEqual(LARGEST);
    expect(wired.filter(level => level < 255 && level > 51).length).toBeGreaterThan(1);
    // It follows at once again.
    await beat(1, 200);
    expect([other.at(-1), wired.at(-1)]).toEqual([200, 200]);
  },
);

it('an output that was blocked before a reload, and is not after it, comes back within the limits too', async () => {
  const network = new Network();
  rig = await Rig.open(network.seams);
  const to = (level: number) => (levels: Uint8Array) => levels.fill(level, 512, 513);
  await rig.beat(10, to(255));
  network.of(OTHER).sendError = systemError('EPERM');
  await rig.beat(60, to(51));
  const successor = await LightingOutput.open(rig.options);
  if (!successor.ok) throw new Error(successor.problems.join());
  successor.output.continueFrom(rig.output.streams);
  network.left();
  const wired: number[] = [255];
  for (let i = 0; i < 60; i++) {
    rig.nowS += 0.025;
    successor.output.send(rig.levels, rig.nowS);
    await turn();
    const [sacn, artnet] = network.left();
    expect(sacn.every(level => level === 51)).toBe(true);
    wired.push(...artnet);
  }
  await successor.output.close();
  expect(wired.at(-1)).toBe(51);
  expect(Math.max(...steps(wired))).toBeLessThanOrEqual(LARGEST);
});

it('flashes no more often than the show may while it comes and goes', async () => {
  const network = new Network();
  rig = await Rig.open(network.seams);
  const wired: number[] = [];
  // Cut off for one beat of three; the show itself turns over every other second, well within its limit.
  for (let i = 0; i < 400; i++) {
    network.of(OTHER).sendError = i % 3 === 0 ? systemError('EPERM') : undefined;
    await rig.beat(1, levels => levels.fill(Math.floor(i / 80) % 2 === 0 ? 255 : 51, 512, 513));
    wired.push(...network.left()[1]);
  }
  expect(Math.max(...steps(wired.slice(5)))).toBeLessThanOrEqual(2 * LARGEST);
  const turns = wired.filter((level, i) => level === 255 && (wired[i - 1] ?? 255) < 255).length;
  expect(turns).toBeLessThanOrEqual(3);
});

/** Dimmer and pan of the head, as they leave by each of the two. */
class HeadRig {
  readonly sacn: [number, number][] = [];
  readonly wired: [number, number][] = [];

  private constructor(
    readonly network: Network,
    readonly rig: Rig,
  ) {}

  static async open(): Promise<HeadRig> {
    const network = new Network();
    rig = await Rig.open(network.seams);
    return new HeadRig(network, rig);
  }

  async beats(count: number, dimmer: number, pan: number | ((beat: number) => number)) {
    for (let i = 0; i < count; i++) {
      await this.rig.beat(1, levels => {
        levels[512] = 51;
        levels[520] = dimmer;
        levels[521] = typeof pan === 'number' ? pan : pan(i);
      });
      this.take();
    }
  }

  take(): void {
    const [sacn, artnet] = this.network.packets();
    const of =
      (header: number) =>
      (bytes: Buffer): [number, number] => [bytes[header + 8] ?? -1, bytes[header + 9] ?? -1];
    this.sacn.push(...sacn.map(of(HEADER.sacn)));
    this.wired.push(...artnet.map(of(HEADER.artnet)));
  }

  get rejoins() {
    return this.rig.events.filter(({ kind }) => kind === 'output-rejoins');
  }
}

/** Largest dimmer level at which the pan changed. */
function brightestMove(levels: readonly (readonly [number, number])[]): number {
  let brightest = 0;
  levels.forEach(([dimmer, pan], i) => {
    const [before, panBefore] = levels[i - 1] ?? [dimmer, pan];
    if (pan !== panBefore) brightest = Math.max(brightest, dimmer, before);
  });
  return brightest;
}

describe.each(CUTS)('a head on an output that was %s alone', (_, cut, mend) => {
  it('goes dark, moves, and comes up there, while the other output goes on', async () => {
    const head = await HeadRig.open();
    const { network } = head;
    await head.beats(20, 255, 30);
    cut(network);
    // A performer who walks: the other output follows.
    await head.beats(80, 255, i => 30 + i);
    const from = head.sacn.length;
    mend(network);
    head.take();
    // Some left before it was seen to be cut off, and what of a jam was under way has left now.
    const wiredFrom = head.wired.length - 1;
    await head.beats(120, 255, 110);
    const back = head.wired.slice(wiredFrom);
    expect(head.sacn.slice(from).every(([dimmer, pan]) => dimmer === 255 && pan === 110)).toBe(
      true,
    );
    expect(back[0]?.[0]).toBe(255);
    expect(back.at(-1)).toEqual([255, 110]);
    expect(brightestMove(back)).toBe(0);
    expect(back.filter(([dimmer]) => dimmer === 0).length).toBeGreaterThan(10);
    const universes = [0x0423];
    expect(head.rejoins).toEqual([
      { kind: 'output-rejoins', interface: OTHER, output: 'practicals', universes },
    ]);
    // And then it follows at once again.
    await head.beats(1, 255, 111);
    expect(head.wired.at(-1)).toEqual([255, 111]);
  });

  it('stays lit where nothing has changed meanwhile', async () => {
    const head = await HeadRig.open();
    await head.beats(20, 255, 30);
    cut(head.network);
    await head.beats(80, 255, 30);
    mend(head.network);
    await head.beats(120, 255, 30);
    expect(head.wired.every(([dimmer, pan]) => dimmer === 255 && pan === 30)).toBe(true);
    expect(head.rejoins).toEqual([]);
  });
});

it('a head goes dark on an output that was cut off before a reload, and leaves again after it', async () => {
  const head = await HeadRig.open();
  const { network } = head;
  await head.beats(20, 255, 30);
  network.of(OTHER).sendError = systemError('EPERM');
  await head.beats(60, 255, 110);
  const successor = await LightingOutput.open(head.rig.options);
  if (!successor.ok) throw new Error(successor.problems.join());
  successor.output.continueFrom(head.rig.output.streams);
  for (let i = 0; i < 120; i++) {
    head.rig.nowS += 0.025;
    successor.output.send(head.rig.levels, head.rig.nowS);
    await turn();
    head.take();
  }
  await successor.output.close();
  expect(head.wired.at(-1)).toEqual([255, 110]);
  expect(brightestMove(head.wired)).toBe(0);
});

it.each([
  ['back by then', 0],
  ['not back yet', 30],
])(
  'a head on an output that was out when the daemon was killed, and then again, begins where it was: %s',
  async (_, beatsOut) => {
    const head = await HeadRig.open();
    const { network } = head;
    await head.beats(20, 255, 30);
    network.of(OTHER).sendError = systemError('EPERM');
    // Too short for an outage, but what follows it is longer.
    await head.beats(10, 255, 110);
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-look-'));
    const start = async (before: readonly SentStream[]) => {
      const opened = await LightingOutput.open(head.rig.options);
      if (!opened.ok) throw new Error(opened.problems.join());
      const key = { standby: false };
      const { streams } = opened.output;
      const look = (each: readonly SentStream[]) => {
        const made = LastLook.open(folder, { ...key, cid: CID, universes: [1, 2], streams: each });
        if (!made.ok) throw new Error(made.reason);
        made.look.write(head.rig.levels, head.rig.nowS, 0);
        made.look.close();
      };
      look(before);
      opened.output.continueFrom(LastLook.read(folder, key, head.rig.nowS)?.streams ?? []);
      return { output: opened.output, streams };
    };
    const send = async (output: LightingOutput, count: number) => {
      for (let i = 0; i < count; i++) {
        head.rig.nowS += 0.025;
        output.send(head.rig.levels, head.rig.nowS);
        await turn();
        head.take();
      }
    };
    const first = await start(head.rig.output.streams);
    network.of(OTHER).sendError = systemError('EPERM');
    await send(first.output, 5);
    const second = await start(first.streams);
    if (beatsOut > 0) network.of(OTHER).sendError = systemError('EPERM');
    await send(second.output, beatsOut);
    network.of(OTHER).sendError = undefined;
    await send(second.output, 120);
    await Promise.all([first, second].map(({ output }) => output.close()));
    rmSync(folder, { recursive: true });
    expect(head.wired.at(-1)).toEqual([255, 110]);
    expect(brightestMove(head.wired)).toBe(0);
    expect(head.sacn.every(([dimmer]) => dimmer === 255)).toBe(true);
  },
);

it('an output that keeps up is not taken for one that was out by a reload', async () => {
  const head = await HeadRig.open();
  await head.beats(20, 255, 30);
  const successor = await LightingOutput.open(head.rig.options);
  if (!successor.ok) throw new Error(successor.problems.join());
  successor.output.continueFrom(head.rig.output.streams);
  head.rig.levels[521] = 40;
  for (let i = 0; i < 20; i++) {
    head.rig.nowS += 0.025;
    successor.output.send(head.rig.levels, head.rig.nowS);
    await turn();
    head.take();
  }
  await successor.output.close();
  expect(head.wired.every(([dimmer]) => dimmer === 255)).toBe(true);
  expect(head.wired.at(-1)).toEqual([255, 40]);
});

it('cut off again on its way back, it begins anew, and is dark when it moves', async () => {
  const head = await HeadRig.open();
  const { network } = head;
  await head.beats(20, 255, 30);
  for (const [pan, beats] of [
    [110, 30],
    [200, 45],
    [60, 200],
  ] as const) {
    network.of(OTHER).sendError = systemError('EPERM');
    await head.beats(40, 255, pan);
    network.of(OTHER).sendError = undefined;
    await head.beats(beats, 255, pan);
  }
  expect(head.rejoins).toHaveLength(3);
  expect(head.wired.at(-1)).toEqual([255, 60]);
  expect(brightestMove(head.wired)).toBe(0);
});

it('another show on the same outputs brings its own fixtures: the head of before is none', async () => {
  const head = await HeadRig.open();
  const { network } = head;
  await head.beats(20, 255, 30);
  network.of(OTHER).sendError = systemError('EPERM');
  await head.beats(60, 255, 110);
  // Slots of the head are now dimmers.
  const channels = HEAD.map((one): FallbackChannel => ({ ...one, class: 'intensity', safeRaw: 0 }));
  const dimmers = channels.map(channel => ({
    channels: [channel],
    moves: false,
    safeIsDark: true,
    fadeS: undefined,
  }));
  const safeLook = new Uint8Array(1024);
  const plan = { ...PLAN, fixtures: dimmers, safeLook };
  const light = { plan, limits: DEFAULT_LIMITS, falls: () => false };
  head.rig.output.shared.take(() => light, head.rig.nowS);
  network.of(OTHER).sendError = undefined;
  await head.beats(120, 255, 110);
  expect(head.wired.at(-1)).toEqual([255, 110]);
  // The pan of before fades by itself: the dimmer beside it has not changed, and stays.
  expect(head.wired.every(([dimmer]) => dimmer === 255)).toBe(true);
  expect(head.wired.some(([, other]) => other === 0)).toBe(true);
});

it('Art-Net of a main machine that listens after it stood still goes dark too, where sACN went on', async () => {
  const head = await HeadRig.open();
  const { output } = head.rig;
  await head.beats(20, 255, 30);
  for (const side of output.sides) {
    side.holdsArtnet = true;
    side.staysOnArtnet = true;
  }
  await head.beats(48, 255, 110);
  expect(head.wired.at(-1)).toEqual([255, 30]);
  for (const side of output.sides) {
    side.holdsArtnet = false;
    side.staysOnArtnet = false;
  }
  await head.beats(120, 255, 110);
  expect(head.wired.at(-1)).toEqual([255, 110]);
  expect(brightestMove(head.wired)).toBe(0);
});

it('Art-Net that another machine has sent meanwhile begins at what the show has', async () => {
  const head = await HeadRig.open();
  const { output } = head.rig;
  await head.beats(20, 255, 30);
  head.network.of(OTHER).sendError = systemError('EPERM');
  await head.beats(60, 255, 110);
  head.network.of(OTHER).sendError = undefined;
  for (const side of output.sides) side.holdsArtnet = true;
  await head.beats(20, 255, 110);
  for (const side of output.sides) side.holdsArtnet = false;
  const from = head.wired.length;
  await head.beats(20, 255, 110);
  expect(head.wired.slice(from).every(([dimmer, pan]) => dimmer === 255 && pan === 110)).toBe(true);
});
