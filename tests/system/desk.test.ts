import { setTimeout as sleep } from 'node:timers/promises';
import { Sender } from 'sacn';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Daemon, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** The npm package `sacn` is the desk, and reads what leaves. */

const DESK_AT = '127.0.18.1';
/** Slots of universe 1, from 0. */
const SAFE = 0;
const COLOUR = 2;
const SHARE = 5;
const FREE = 9;
const FADE_S = 0.5;

const { file, remove } = variantOf('config/minimal.show.yaml', [
  [
    'fixtures:\n  stove-glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }',
    `desk:
  stage: { protocol: sacn, universe: 118, interface: ${DESK_AT}, ground: 1, fade: ${FADE_S} }
profiles:
  rgb: { channels: [{ attribute: Dimmer }, { attribute: ColorAdd_R }, { attribute: ColorAdd_G }, { attribute: ColorAdd_B }] }
fixtures:
  stove-glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 }, ground: safe }
  spot: { profile: rgb, universe: 1, address: 2, base: { Dimmer: 40 }, safe: { Dimmer: 40 }, ground: [colour] }
  wash: { profile: dimmer, universe: 1, address: 6, base: { Dimmer: 40 }, safe: { Dimmer: 40 }, ground: scale }`,
  ],
]);

class TestDesk {
  readonly #sender = new Sender({ universe: 118, useUnicastDestination: DESK_AT });
  readonly #cid = Buffer.alloc(16, 'desk');
  readonly #levels: Record<number, number> = {};
  readonly #timer: NodeJS.Timeout;
  isOn = true;

  constructor() {
    this.#timer = setInterval(() => {
      if (this.isOn) void this.#send();
    }, 25);
  }

  /** Slots from 0. */
  set(levels: Record<number, number>): void {
    for (const [slot, level] of Object.entries(levels)) this.#levels[Number(slot) + 1] = level;
    if (this.isOn) void this.#send();
  }

  close(): void {
    clearInterval(this.#timer);
    this.#sender.close();
  }

  #send() {
    const payload = { ...this.#levels };
    return this.#sender.send({
      payload,
      sourceName: 'test desk',
      priority: 100,
      cid: this.#cid,
      useRawDmxValues: true,
    });
  }
}

let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;
let desk: TestDesk;
const level = (slot: number) => sacn.last[slot] ?? -1;

beforeAll(async () => {
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  trackers.place(1, 2, 3);
  desk = new TestDesk();
  desk.set({ [SAFE]: 200, [COLOUR]: 11, [SHARE]: 255, [FREE]: 77 });
  daemon = Daemon.run(file);
  await until('the lamp is lit', () => level(SAFE) === 255, 20);
}, 30_000);

afterAll(async () => {
  desk.close();
  trackers.close();
  await daemon.stop();
  sacn.close();
  remove();
}, 30_000);

/** What the wire showed from now on, of one slot. */
async function watched(slot: number, action: () => unknown, forS: number): Promise<number[]> {
  const from = sacn.packets.length;
  await action();
  await sleep(forS * 1000);
  return sacn.packets.slice(from).map(({ slots }) => slots[slot] ?? -1);
}

const steps = (levels: readonly number[]) =>
  levels.slice(1).map((one, i) => Math.abs(one - (levels[i] as number)));

describe('a desk under the show', () => {
  it('passes what is its own: free slots and given attributes, unlimited; its share is of our intensity', async () => {
    expect([level(COLOUR), level(FREE)]).toEqual([11, 77]);
    await until('the share', () => level(SHARE) === 102);
    const free = await watched(FREE, () => desk.set({ [FREE]: 250, [COLOUR]: 240 }), 0.3);
    // A fader that is thrown: nothing between.
    expect(free.filter(one => one !== 77 && one !== 250)).toEqual([]);
    expect(level(COLOUR)).toBe(240);
    desk.set({ [SHARE]: 128 });
    await until('half of it', () => level(SHARE) === 51);
  });

  it('is told of by name', () => {
    const heard = daemon.log.find(({ kind }) => kind === 'desk-heard');
    expect(heard?.msg).toBe('desk "stage" is heard: "test desk" at 127.0.0.1, priority 100');
  });

  it('has its own level where a performer is lost, and goes on moving it', async () => {
    trackers.silence(1);
    await until("the lamp is the desk's", () => level(SAFE) === 200);
    // Until the engine has said that it is there to stay.
    await sleep(100);
    const moved = await watched(SAFE, () => desk.set({ [SAFE]: 20 }), 0.3);
    expect(moved.filter(one => one !== 200 && one !== 20)).toEqual([]);
    expect(level(SAFE)).toBe(20);
    trackers.place(1, 2, 3);
    const back = await watched(SAFE, () => until('it is lit', () => level(SAFE) === 255), 0);
    expect(Math.max(...steps(back))).toBeLessThan(80);
  });

  it('still has the light when the engine is dead', async () => {
    daemon.signalEngine('SIGSTOP');
    await until('the engine is given up', () => level(SAFE) === 20);
    desk.set({ [SAFE]: 90, [FREE]: 5, [COLOUR]: 6 });
    await until('the desk reaches the light', () => level(SAFE) === 90 && level(FREE) === 5);
    expect(level(COLOUR)).toBe(6);
    await until('it is back', () => level(SAFE) === 255, 20);
  });

  it('is not called silent where it was the daemon that did not listen', async () => {
    const from = daemon.log.length;
    daemon.signal('SIGSTOP');
    await sleep(3500); // longer than a source may be silent (E1.31 6.7.1: 2.5 s)
    daemon.signal('SIGCONT');
    const news = () => daemon.log.slice(from);
    await until('it says so', () => news().some(({ kind }) => kind === 'stood-still'));
    await until('it is back', () => level(SAFE) === 255, 20);
    expect(news().filter(({ kind }) => kind === 'desk-gone')).toEqual([]);
  });

  it("is held when it is gone, and safe values are the show's", async () => {
    desk.isOn = false;
    await until('it is told', () => daemon.log.some(({ kind }) => kind === 'desk-gone'), 8);
    expect([level(FREE), level(COLOUR)]).toEqual([5, 6]);
    trackers.silence(1);
    await until('the lamp is at 20 per cent', () => level(SAFE) === 51);
    const back = await watched(
      SAFE,
      () => {
        desk.isOn = true;
      },
      FADE_S + 1,
    );
    expect(back.at(-1)).toBe(90);
    expect(Math.max(...steps(back))).toBeLessThan(20);
    expect(daemon.log.findLast(({ kind }) => kind === 'desk-heard')?.msg).toMatch(
      /^desk "stage" is heard again, after \d s: "test desk"/,
    );
  });
});
