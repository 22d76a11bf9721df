import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  createShowLevels,
  followDesk,
  layDesk,
  layWire,
  type ShowLevels,
} from '../../src/daemon/show-levels.js';
import { takeOverLevels } from '../../src/daemon/take-over.js';
import { stepFallback } from '../../src/safety/fallback.js';
import { stepOutputLimiter } from '../../src/safety/output-limiter.js';
import { showOf } from '../show/show-of.js';

const BEAT_S = 1 / 40;
const FADE_S = 1;
const show = (gone = 'hold') =>
  showOf(`
lampwright: 1
name: Ground
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
zones: { stove: { circle: { centre: [2, 3], radius: 0.8 } } }
profiles:
  wide: { channels: [{ attribute: Dimmer, bits: 16 }] }
  rgb: { channels: [{ attribute: Dimmer }, { attribute: ColorAdd_R }, { attribute: ColorAdd_G }, { attribute: ColorAdd_B }] }
fixtures:
  lamp: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 }, ground: safe }
  spot: { profile: rgb, universe: 1, address: 2, safe: { Dimmer: 40, ColorAdd_R: 100 }, ground: [colour] }
  wash: { profile: wide, universe: 1, address: 6, safe: { Dimmer: 100 }, ground: scale }
mappings: [{ zone: stove, fixtures: [lamp], set: { Dimmer: 100 } }]
desk: { stage: { protocol: artnet, universe: 3, interface: eth1, ground: 1, gone: ${gone}, fade: ${FADE_S} } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);

const [LAMP, DIMMER, RED, WASH, FREE] = [0, 1, 2, 5, 100];
const SAFE_LAMP = 51;

/** The supervisor's beats, with a desk and an engine that say what they are told. */
class House {
  readonly desk = { levels: new Uint8Array(512), changes: 0, isHeard: false, everHeard: false };
  readonly frame: Uint8Array;
  engineRests = false;
  isWell = true;
  nowS = 100;

  constructor(public levels: ShowLevels) {
    this.frame = Uint8Array.from(levels.plan.safeLook);
  }

  say(slots: Readonly<Record<number, number>>): void {
    for (const [slot, level] of Object.entries(slots)) this.desk.levels[Number(slot)] = level;
    Object.assign(this.desk, { isHeard: true, everHeard: true, changes: this.desk.changes + 1 });
  }

  /** @returns what is sent after each beat */
  run(seconds: number): Uint8Array[] {
    return Array.from({ length: Math.round(seconds / BEAT_S) }, () => this.beat());
  }

  beat(): Uint8Array {
    this.nowS += BEAT_S;
    const { levels } = this;
    followDesk(levels, () => this.desk, BEAT_S);
    stepFallback(levels.fallback, levels.plan, this.frame, this.isWell, BEAT_S, levels.out);
    layDesk(levels, () => this.engineRests, 0, 1);
    stepOutputLimiter(levels.limiter, levels.out, BEAT_S, this.nowS);
    layWire(levels, 0, 1);
    return Uint8Array.from(levels.wire);
  }
}

function live(gone?: string): House {
  const house = new House(createShowLevels(show(gone)));
  house.frame.set([255, 102, 0, 0, 0, 255, 255]);
  house.run(6);
  expect(house.levels.fallback.phase).toBe('live');
  return house;
}

const last = (sent: readonly Uint8Array[]) => sent.at(-1) as Uint8Array;
const column = (sent: readonly Uint8Array[], slot: number) => sent.map(one => one[slot] as number);
const longestStep = (values: readonly number[]) =>
  Math.max(...values.slice(1).map((one, i) => Math.abs(one - (values[i] as number))));

describe('the desk under the light', () => {
  test('before it is heard: free slots at 0, safe values of the show, and a share of nothing', () => {
    const sent = live().beat();
    expect([sent[LAMP], sent[DIMMER], sent[RED], sent[WASH], sent[FREE]]).toEqual([
      255, 102, 255, 0, 0,
    ]);
  });

  test('its free slots and attributes pass in the beat in which they come, at any pace and without limits', () => {
    const house = live();
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 255 }),
        fc.integer({ min: 0, max: 511 }),
        (level, at) => {
          house.say({ [at]: level, [RED]: level, [FREE]: 255 - level });
          const sent = house.beat();
          expect([sent[RED], sent[FREE]]).toEqual([
            at === RED ? level : level,
            house.desk.levels[FREE],
          ]);
          // What is ours alone stays so.
          expect([sent[LAMP], sent[DIMMER]]).toEqual([255, 102]);
        },
      ),
      { seed: 20261130, numRuns: 200 },
    );
  });

  test('what we send is a share of the desk’s intensity, as one number of 16 bits; our own step is limited', () => {
    const house = live();
    const wash = (sent: Uint8Array) => 256 * (sent[WASH] as number) + (sent[WASH + 1] as number);
    house.say({ [WASH]: 0x80, [WASH + 1]: 0x01 });
    expect(wash(house.beat())).toBe(0x8001);
    house.frame.fill(0, WASH, WASH + 2);
    const [first = -1] = house.run(0.2).map(wash);
    // A tenth of a second for the range: in a beat of 25 ms no more than a quarter of it.
    expect(first).toBeGreaterThan(0x8001 * 0.7);
    expect(wash(house.beat())).toBe(0);
  });

  test('where the engine has a lamp at rest, it goes with the desk at once and nothing limits it', () => {
    const house = live();
    house.frame[LAMP] = SAFE_LAMP;
    house.say({});
    house.run(FADE_S + 0.1);
    house.engineRests = true;
    for (const level of [255, 0, 255, 0, 255, 0, 255, 0]) {
      house.say({ [LAMP]: level });
      expect(house.beat()[LAMP]).toBe(level);
    }
    // It comes back to ours: from there, within the limits, and with a ration of flashes of its own.
    house.engineRests = false;
    house.frame[LAMP] = 255;
    const back = column(house.run(1), LAMP);
    expect(longestStep([0, ...back])).toBeLessThanOrEqual(64);
    expect(back.at(-1)).toBe(255);
  });

  test('a dead engine leaves the desk’s light: over the fade, and then its own', () => {
    const house = live();
    house.say({ [LAMP]: 180, [RED]: 9, [FREE]: 40 });
    house.beat();
    house.isWell = false;
    const fade = house.run(5);
    expect(longestStep(column(fade, LAMP))).toBeLessThanOrEqual(3);
    expect(last(fade)[LAMP]).toBe(180);
    house.say({ [LAMP]: 0, [RED]: 200, [FREE]: 250 });
    const sent = house.beat();
    expect([sent[LAMP], sent[RED], sent[FREE]]).toEqual([0, 200, 250]);
    house.isWell = true;
    const back = house.run(6);
    expect(longestStep([0, ...column(back, LAMP)])).toBeLessThanOrEqual(64);
    expect(last(back)[LAMP]).toBe(255);
  });
});

describe('a desk that is gone', () => {
  test('is held; where a lamp is at rest, it goes to the safe value of the show over the fade', () => {
    const house = live();
    house.say({ [LAMP]: 200, [RED]: 77, [FREE]: 99 });
    house.engineRests = true;
    house.frame[LAMP] = SAFE_LAMP;
    house.run(FADE_S + 0.1);
    house.desk.isHeard = false;
    const sent = house.run(FADE_S + 0.1);
    expect(new Set(column(sent, RED))).toEqual(new Set([77]));
    expect(new Set(column(sent, FREE))).toEqual(new Set([99]));
    expect(longestStep([200, ...column(sent, LAMP)])).toBeLessThanOrEqual(5);
    expect(last(sent)[LAMP]).toBe(SAFE_LAMP);
  });

  test('goes to its value over the fade, and its attributes to the safe values of the show; and back', () => {
    const house = live('0.5');
    house.say({ [RED]: 0, [FREE]: 0, [WASH]: 255, [WASH + 1]: 255 });
    house.run(2);
    house.desk.isHeard = false;
    const sent = house.run(FADE_S + 0.1);
    for (const slot of [RED, FREE]) expect(longestStep(column(sent, slot))).toBeLessThanOrEqual(8);
    expect([last(sent)[RED], last(sent)[FREE], last(sent)[WASH]]).toEqual([255, 128, 128]);
    house.desk.isHeard = true;
    const back = house.run(FADE_S + 0.1);
    expect(longestStep(column(back, RED))).toBeLessThanOrEqual(8);
    expect([last(back)[RED], last(back)[FREE], last(back)[WASH]]).toEqual([0, 0, 255]);
  });
});

describe('another supervisor', () => {
  test('that takes over after a crash holds what was sent, until the desk is heard', () => {
    const house = live();
    house.say({ [RED]: 33, [WASH]: 128, [FREE]: 44 });
    const sent = house.beat();
    const before = { show: house.levels.show, out: sent, losingForS: 0 };
    const next = new House(takeOverLevels(show(), { ...before, show: { universes: [1] } }));
    next.isWell = false;
    const first = next.beat();
    expect([first[RED], first[FREE]]).toEqual([33, 44]);
    expect(Math.abs((first[WASH] as number) - (sent[WASH] as number))).toBeLessThanOrEqual(2);
  });

  test('a reload by way of the safe look holds a desk that is gone', () => {
    const house = live();
    house.say({ [RED]: 33, [FREE]: 44 });
    house.beat();
    house.desk.isHeard = false;
    house.run(2);
    const text = show();
    house.levels = takeOverLevels({ ...text, name: 'Next' }, house.levels);
    house.desk.everHeard = false;
    const sent = house.run(1);
    expect(new Set(column(sent, FREE))).toEqual(new Set([44]));
    expect(new Set(column(sent, RED))).toEqual(new Set([33]));
  });
});
