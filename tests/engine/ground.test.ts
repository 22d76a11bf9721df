import { describe, expect, test } from 'vitest';
import { Rig } from './harness.js';
import { SOLO } from './shows.js';

const AT_THE_STOVE = { 1: [2, 6] } as const;
const DESK =
  'desk: { stage: { protocol: sacn, universe: 101, interface: eth1, ground: 1, fade: 1 } }\n';
const SHOW = `${SOLO.replace(
  'safe: { Dimmer: 20 } }',
  'safe: { Dimmer: 20 }, ground: safe }',
).replace('safe: { aim: [5, 4, 0] } }', 'safe: { aim: [5, 4, 0] }, ground: safe }')}${DESK}`;

const slotsOf = (rig: Rig) => [...rig.view.levels.subarray(0, 512)];
const rests = (rig: Rig) => [...rig.engine.ground.resting];

describe('safe values that are the desk’s', () => {
  test('are what a lost performer’s light goes to, and it moves with them at once', () => {
    const rig = new Rig(SHOW);
    rig.hear(0, { 1: 200 });
    rig.run(6, AT_THE_STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    expect(rests(rig)).toEqual([0, 0]);
    let before = rig.level('stove-glow');
    rig.run(6, {}, () => {
      const now = rig.level('stove-glow');
      // Over two seconds from 85 to 78 per cent: in no step more than one of 8 bits and its rounding.
      expect(Math.abs(now - before)).toBeLessThan(1);
      before = now;
    });
    expect(slotsOf(rig)[0]).toBe(200);
    expect(rests(rig)).toEqual([1, 1]);
    rig.hear(0, { 1: 3 });
    rig.run(1 / 40);
    expect(slotsOf(rig)[0]).toBe(3);
    rig.run(6, AT_THE_STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    expect(rests(rig)).toEqual([0, 0]);
  });

  test('of a head are its aim as well: dark on the way there, and raw as the desk has it', () => {
    const rig = new Rig(SHOW);
    const { plan } = rig.light('head');
    const first = plan.firstSlot + 1;
    const desk = Object.fromEntries(
      Array.from({ length: plan.profile.footprint }, (_, i) => [first + i, 30 + 7 * i]),
    );
    rig.hear(0, desk);
    rig.run(6, AT_THE_STOVE);
    expect(rig.beamMisses('head', [2, 6, 1.6])).toBeLessThan(0.1);
    let last = rig.level('head', 'Pan');
    rig.run(8, {}, () => {
      const now = rig.level('head', 'Pan');
      if (Math.abs(now - last) > 1e-6) expect(rig.level('head')).toBe(0);
      last = now;
    });
    const slots = slotsOf(rig).slice(plan.firstSlot, plan.firstSlot + plan.profile.footprint);
    const strobes = plan.strobes.findIndex(one => one !== undefined);
    const kept = new Set(strobes < 0 ? [] : plan.profile.channels[strobes]?.offsets);
    const passed = Object.values(desk).filter((_, i) => !kept.has(i));
    // Some values of a shutter strobe: that channel is ours.
    expect(slots.filter((_, i) => !kept.has(i))).toEqual(passed);
  });

  test('are the show’s where the desk was never heard, and go there where it is gone', () => {
    const rig = new Rig(SHOW);
    rig.run(3);
    expect(rig.level('stove-glow')).toBe(20);
    rig.hear(0, { 1: 250 });
    rig.run(2);
    expect(slotsOf(rig)[0]).toBe(250);
    rig.hear(0, {}, false);
    rig.run(0.5);
    expect(slotsOf(rig)[0]).toBeGreaterThan(120);
    expect(slotsOf(rig)[0]).toBeLessThan(180);
    rig.run(1);
    expect(rig.level('stove-glow')).toBe(20);
    rig.hear(0);
    rig.run(2);
    expect(slotsOf(rig)[0]).toBe(250);
  });

  test('of a lamp with a virtual dimmer are its colours, raw', () => {
    const rgb =
      'profiles:\n  rgb: { channels: [{ attribute: ColorAdd_R }, { attribute: ColorAdd_G }, { attribute: ColorAdd_B }] }\nfixtures:\n  wash: { profile: rgb, universe: 1, address: 101, base: { Dimmer: 10 }, ground: safe }\n';
    const mapping = '  - { zone: stove, fixtures: [wash], set: { Dimmer: 100 } }\nwatchdog:';
    const rig = new Rig(SHOW.replace('fixtures:\n', rgb).replace('watchdog:', mapping));
    for (const levels of [
      [12, 200, 77],
      [0, 0, 0],
      [255, 1, 254],
    ]) {
      rig.hear(0, { 101: levels[0] ?? 0, 102: levels[1] ?? 0, 103: levels[2] ?? 0 });
      rig.run(4);
      expect(slotsOf(rig).slice(100, 103)).toEqual(levels);
    }
    rig.run(5, AT_THE_STOVE);
    expect(slotsOf(rig).slice(100, 103)).toEqual([255, 255, 255]);
  });

  test('of a wheel are the desk’s until its light is all gone: a wheel does not turn by and by', () => {
    const wheel =
      'profiles:\n  wheel: { channels: [{ attribute: Dimmer }, { attribute: Color1, values: { open: 0, amber: 60, blue: 120 } }] }\nfixtures:\n  lamp: { profile: wheel, universe: 1, address: 101, safe: { Dimmer: 40, Color1: amber }, ground: safe }\n';
    const mapping = '  - { zone: stove, fixtures: [lamp], set: { Dimmer: 100 } }\nwatchdog:';
    const rig = new Rig(SHOW.replace('fixtures:\n', wheel).replace('watchdog:', mapping));
    const lamp = () => slotsOf(rig).slice(100, 102);
    rig.run(1);
    expect(lamp()).toEqual([102, 60]);
    rig.hear(0, { 101: 204, 102: 120 });
    rig.run(2);
    expect(lamp()).toEqual([204, 120]);
    rig.hear(0, {}, false);
    rig.run(0.5);
    expect(lamp()).toEqual([expect.closeTo(153, -1), 120]);
    rig.run(1);
    expect(lamp()).toEqual([102, 60]);
  });
});
