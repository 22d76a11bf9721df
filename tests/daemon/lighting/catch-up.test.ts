import type { Socket } from 'node:dgram';
import { afterEach, expect, it } from 'vitest';
import { findInterface } from '../../../src/daemon/lighting/interfaces.js';
import { LightingOutput } from '../../../src/daemon/lighting/lighting-output.js';
import type { FallbackChannel } from '../../../src/safety/fallback.js';
import { DEFAULT_LIMITS } from '../../../src/safety/leaving.js';
import { artnetPlan, FakeSocket, OURS, Rig, sacnPlan, systemError, turn } from './support.js';

/** Two outputs of one universe: sACN by one interface, Art-Net by the other, which is cut off in some way. */
const OTHER = '127.0.61.8';
const DIMMER: FallbackChannel = {
  slots: [512],
  class: 'intensity',
  safeRaw: 51,
  darkRaw: 0,
  stepped: false,
  dropsAtOnce: false,
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
    limited: () => ({ channels: [DIMMER], limits: DEFAULT_LIMITS }),
  };

  of(address: string): FakeSocket {
    const all = this.sockets.filter(({ boundTo }) => boundTo?.address === address);
    return all.at(-1) ?? new FakeSocket();
  }

  /** Levels of the dimmer that have left since the last call, first those of the sACN output. */
  left(): [number[], number[]] {
    const take = (address: string, header: number, length: number) =>
      this.sockets
        .filter(({ boundTo }) => boundTo?.address === address)
        .flatMap(({ sent, sendError }) =>
          sent
            .splice(0)
            .filter(({ bytes }) => sendError === undefined && bytes.length === length)
            .map(({ bytes }) => bytes[header] ?? -1),
        );
    return [take(OURS, HEADER.sacn, 638), take(OTHER, HEADER.artnet, 530)];
  }
}

const steps = (levels: readonly number[]) =>
  levels.slice(1).map((level, i) => Math.abs(level - (levels[i] ?? 0)));

it.each<[string, (network: Network) => void, (network: Network) => void]>([
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
])(
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
  for (let i = 0; i < 20; i++) {
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
