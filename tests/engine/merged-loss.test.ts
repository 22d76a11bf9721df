import { expect, it } from 'vitest';
import { Rig, TICK_HZ } from './harness.js';

/** Two lamps of one zone; another mapping, which asks for nothing just now, is merged into one of them. */
const show = (how: string) => `
lampwright: 1
name: One of two is merged
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] }, gull: { trackers: [3] } }
zones: { stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 } }
fixtures:
  plain: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 0 } }
  merged: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: 0 } }
signals: { near: { distance: [gull, [2, 6]], range: [3, 1] } }
mappings:
  - { zone: stove, performers: [ines], fixtures: [plain, merged], set: { Dimmer: 80 } }
  - { zone: stove, performers: [tobias], fixtures: [plain, merged], set: { Dimmer: 20 } }
  - { by: near, fixtures: [merged], set: { Dimmer: 30 }, ${how} }
watchdog:
  trackerSilent: { after: 0.5, fade: 1.5 }
  feedSilent: { after: 9, fade: 1.5 }
  return: 1
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
const PLACES = { '1': [2, 6], '2': [2.5, 6], '3': [9, 1] } as const;
const without = (...lost: string[]) =>
  Object.fromEntries(Object.entries(PLACES).filter(([id]) => !lost.includes(id)));

const HOWS = ['priority: -1', 'priority: 1', 'mix: latest', 'mix: add', 'mix: scale'];

it.each(HOWS)('a merged lamp falls and comes up with one trust, as any other: %s', how => {
  const rig = new Rig(show(how));
  rig.run(4, without());
  expect(rig.level('plain')).toBeCloseTo(80, 0);
  for (const [forS, places] of [
    [1, without('1', '2')],
    [2, without()],
    [1.3, without('1', '2')],
    [2, without()],
  ] as const) {
    // biome-ignore format: one evening
    for (let tick = 0; tick < forS * TICK_HZ; tick++) {
      rig.run(1 / TICK_HZ, places);
      expect(Math.abs(rig.level('merged') - rig.level('plain'))).toBeLessThan(0.6);
    }
  }
  expect(rig.level('merged')).toBeCloseTo(80, 0);
});

it.each(HOWS)('and a second loss brings nothing up: %s', how => {
  const rig = new Rig(show(how));
  rig.run(4, without());
  let before = rig.level('merged');
  for (const [forS, places] of [
    [0.8, without('3')],
    [0.4, without('3', '1')],
    [3, without('1', '2', '3')],
  ] as const) {
    // biome-ignore format: one evening
    for (let tick = 0; tick < forS * TICK_HZ; tick++) {
      rig.run(1 / TICK_HZ, places);
      expect(rig.level('merged')).toBeLessThanOrEqual(before + 1e-9);
      before = rig.level('merged');
    }
  }
  expect(before).toBe(0);
});

// Decision 7: who is lost takes nothing from the others, and still brings up the safe value, merged or not.
it.each([
  ['mix: scale', 40, 18],
  ['priority: 1', 20, 20],
])(
  'one lost of two who hold a lamp brings it to its safe value where it is held below, as any other: %s',
  (how, set, held) => {
    for (const safe of [30, 5]) {
      const rig = new Rig(`
lampwright: 1
name: Held below safe
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] }, gull: { trackers: [3] } }
zones: { stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 } }
fixtures:
  plain: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: ${safe} } }
  merged: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: ${safe} } }
  counted: { profile: dimmer, universe: 1, address: 3, safe: { Dimmer: ${safe} } }
signals: { there: { count: { zone: stove, of: [ines, tobias] } }, near: { distance: [gull, [9, 1]] } }
conditions: { anyone: { signal: there, on: 1, off: 0.5 }, far: { signal: near, below: 1, off: 2 } }
mappings:
  - { zone: stove, performers: [ines, tobias], fixtures: [plain], set: { Dimmer: ${held} } }
  - { zone: stove, performers: [ines, tobias], fixtures: [merged], set: { Dimmer: 45 } }
  - { when: anyone, fixtures: [counted], set: { Dimmer: 45 } }
  - { when: far, fixtures: [merged, counted], set: { Dimmer: ${set} }, ${how} }
watchdog:
  trackerSilent: { after: 0.5, fade: 1.5 }
  feedSilent: { after: 9, fade: 1.5 }
  return: 1
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`);
      rig.run(4, without());
      for (const name of ['plain', 'merged', 'counted']) {
        expect(rig.level(name)).toBeCloseTo(held, 0);
      }
      let before = rig.level('merged');
      rig.run(5, without('1'), () => {
        expect(rig.level('merged')).toBeGreaterThanOrEqual(before - 1e-9);
        before = rig.level('merged');
      });
      expect(rig.level('plain')).toBeCloseTo(Math.max(held, safe), 0);
      expect(rig.level('merged')).toBeCloseTo(Math.max(held, safe), 0);
      // Whoever is lost, somebody is surely there: nothing is unknown.
      expect(rig.level('counted')).toBeCloseTo(held, 0);
    }
  },
);
