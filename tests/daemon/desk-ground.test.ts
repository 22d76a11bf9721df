import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { goOnWith, prepareLevels } from '../../src/daemon/levels/next-levels.js';
import { followComeback, rejoin } from '../../src/daemon/levels/rejoin.js';
import {
  beginBlend,
  createShowLevels,
  followDesk,
  layDesk,
  layWire,
  type ShowLevels,
  stepBlend,
} from '../../src/daemon/levels/show-levels.js';
import { takeOverLevels } from '../../src/daemon/levels/take-over.js';
import { stepFallback } from '../../src/safety/fallback.js';
import { LEAVES, STAYS, stepOutputLimiter } from '../../src/safety/output-limiter.js';
import { showOf } from '../show/show-of.js';

const BEAT_S = 1 / 40;
const FADE_S = 1;
const show = (gone = 'hold', input = 'stage', universe = 3) =>
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
desk: { ${input}: { protocol: artnet, universe: ${universe}, interface: eth1, ground: 1, gone: ${gone}, fade: ${FADE_S} } }
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
  isCut = false;
  /** What left last. */
  #left = new Uint8Array(512);
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
    const sent = levels.outages.hasReturned ? Uint8Array.from(levels.out) : undefined;
    stepFallback(levels.fallback, levels.plan, this.frame, this.isWell, BEAT_S, levels.out);
    if (sent !== undefined) rejoin(levels, sent);
    followComeback(levels, BEAT_S);
    stepBlend(levels, BEAT_S);
    layDesk(levels, () => this.engineRests, 0, 1);
    const universes = Uint8Array.of(this.isCut ? STAYS : LEAVES);
    const cutOff = levels.outages.look({ universes, sent: this.#left }, this.nowS);
    stepOutputLimiter(levels.limiter, levels.out, BEAT_S, this.nowS, cutOff);
    layWire(levels, 0, 1);
    if (!this.isCut) this.#left = Uint8Array.from(levels.wire);
    return this.#left;
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

describe('an outage of ours, or of the other machine', () => {
  test('what is at rest on the desk by then fades out where it was, and what else is the desk’s waits for it', () => {
    const house = live('0');
    house.say({ [LAMP]: 60, [RED]: 11, [FREE]: 77, [WASH]: 255 });
    const before = last(house.run(FADE_S + 0.1));
    expect([before[LAMP], before[RED], before[FREE]]).toEqual([255, 11, 77]);
    house.isCut = true;
    house.run(1);
    // The desk is heard by the same cable; tracking is lost too.
    house.desk.isHeard = false;
    house.engineRests = true;
    house.frame[LAMP] = SAFE_LAMP;
    house.run(3);
    house.isCut = false;
    const back = [...house.run(0.5)];
    house.desk.isHeard = true;
    back.push(...house.run(8));
    expect(longestStep([255, ...column(back, LAMP)])).toBeLessThanOrEqual(12);
    expect(last(back)[LAMP]).toBe(60);
    expect(new Set(column(back, FREE))).toEqual(new Set([77]));
    expect(new Set(column(back, RED))).toEqual(new Set([11]));
    // From now on the desk's own steps are its own again.
    house.say({ [LAMP]: 255 });
    expect(house.beat()[LAMP]).toBe(255);
  });

  test('a desk that stays away after it goes to its value, over the fade', () => {
    const house = live('0');
    house.say({ [FREE]: 77 });
    house.run(FADE_S + 0.1);
    house.isCut = true;
    house.run(1);
    house.desk.isHeard = false;
    house.run(3);
    house.isCut = false;
    const back = column(house.run(5), FREE);
    expect(longestStep([77, ...back])).toBeLessThanOrEqual(3);
    expect([back[0], back.at(-1)]).toEqual([77, 0]);
  });

  test('from the other’s light to ours: what rests on the desk, and a share of it', () => {
    const house = live();
    house.say({ [LAMP]: 60, [WASH]: 128 });
    house.engineRests = true;
    house.frame[LAMP] = SAFE_LAMP;
    house.run(FADE_S + 0.1);
    const theirs = Uint8Array.from(house.levels.wire);
    theirs[LAMP] = 255;
    beginBlend(house.levels, { levels: theirs, knows: () => true });
    const sent = house.run(4);
    expect(longestStep([255, ...column(sent, LAMP)])).toBeLessThanOrEqual(8);
    expect(last(sent)[LAMP]).toBe(60);
    // Both send the same share.
    expect(new Set(column(sent, WASH))).toEqual(new Set([theirs[WASH]]));
  });
});

describe('a reload', () => {
  const resting = (gone?: string) => {
    const house = live(gone);
    house.say({ [LAMP]: 200, [RED]: 11, [FREE]: 77, [WASH]: 128 });
    house.engineRests = true;
    house.frame[LAMP] = SAFE_LAMP;
    house.run(FADE_S + 0.1);
    return house;
  };
  const goesOn = async (house: House, next: ReturnType<typeof show>) => {
    const before = house.beat();
    house.levels = goOnWith(await prepareLevels(next, 0, () => Promise.resolve()), house.levels);
    return before;
  };

  test('that goes on under a desk that is gone is no step, whatever its value is from now on', async () => {
    for (const [gone, next] of [
      ['0.5', '0.5'],
      ['0.5', '0'],
      ['hold', '0'],
    ] as const) {
      const house = resting(gone);
      house.desk.isHeard = false;
      house.run(FADE_S + 0.1);
      const before = await goesOn(house, show(next));
      const sent = [before, ...house.run(6)];
      for (const slot of [LAMP, RED, FREE, WASH]) {
        expect(longestStep(column(sent, slot)), `${gone} ${next} ${slot}`).toBeLessThanOrEqual(8);
      }
      if (next === '0') expect(last(sent)[FREE]).toBe(0);
    }
  });

  test('to another input, or to another name, stays where it is until that is heard', () => {
    for (const [next, isKnown] of [
      [show('0', 'floor'), true],
      [show('0', 'stage', 7), false],
    ] as const) {
      const house = resting('0');
      const before = house.beat();
      house.levels = takeOverLevels(next, house.levels);
      house.isWell = false;
      if (!isKnown) {
        Object.assign(house.desk, { isHeard: false, everHeard: false, changes: 0 });
      }
      const sent = [before, ...house.run(1)];
      house.say({});
      sent.push(...house.run(1));
      for (const slot of [LAMP, RED, FREE, WASH]) {
        expect(longestStep(column(sent, slot)), String(slot)).toBeLessThanOrEqual(1);
      }
    }
  });
});

describe('another supervisor', () => {
  test('goes on from what was sent and what lay under it: free slots, a share, and what rests on the desk', () => {
    for (const gone of ['hold', '0']) {
      for (const share of [128, 0]) {
        const house = live(gone);
        house.say({ [LAMP]: 200, [RED]: 33, [WASH]: share, [FREE]: 77 });
        house.engineRests = true;
        house.frame[LAMP] = SAFE_LAMP;
        const sent = last(house.run(FADE_S + 0.1));
        const groundLevels = Uint8Array.from(house.levels.ground?.levels ?? []);
        const before = { show: { universes: [1] }, out: sent, losingForS: 0, groundLevels };
        const next = new House(takeOverLevels(show(gone), before));
        next.isWell = false;
        const first = next.run(1);
        next.say({ [LAMP]: 200, [RED]: 33, [WASH]: share, [FREE]: 77 });
        const all = [sent, ...first, ...next.run(2)];
        for (const slot of [LAMP, RED, FREE, WASH]) {
          expect(longestStep(column(all, slot)), `${gone} ${share} ${slot}`).toBeLessThanOrEqual(1);
        }
      }
    }
  });

  test('whose desk does not come back goes to its value over the fade; one that sends nothing but zeros is heard', () => {
    const house = live('0');
    house.say({ [FREE]: 77 });
    const sent = last(house.run(FADE_S + 0.1));
    const groundLevels = Uint8Array.from(house.levels.ground?.levels ?? []);
    const before = { show: { universes: [1] }, out: sent, losingForS: 0, groundLevels };
    const alone = new House(takeOverLevels(show('0'), before));
    const away = column(alone.run(5), FREE);
    expect(longestStep([77, ...away])).toBeLessThanOrEqual(3);
    expect([away[40], away.at(-1)]).toEqual([77, 0]);
    const next = new House(takeOverLevels(show('hold'), before));
    next.run(1);
    Object.assign(next.desk, { isHeard: true, everHeard: true });
    expect(next.beat()[FREE]).toBe(0);
  });

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
