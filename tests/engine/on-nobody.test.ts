import { describe, expect, test } from 'vitest';
import { type Place, Rig } from './harness.js';
import { KEPT } from './keep-out-show.js';

const room = (right: string, left = 'profile: moving-head') => `
lampwright: 1
name: On nobody
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] }, gull: { trackers: [3] } }
groups: { company: [ines, tobias, gull], heads: [left, mid, right] }
profiles:
  narrow:
    channels:
      - { attribute: Pan, bits: 16, range: [-20, 20] }
      - { attribute: Tilt, bits: 16, range: [-60, 60] }
      - { attribute: Dimmer }
fixtures:
  left: { ${left}, universe: 1, address: 1, position: [1, -3, 6], safe: { aim: [1, 4, 0], Dimmer: 0 } }
  mid: { profile: moving-head, universe: 1, address: 21, position: [5, -3, 6], safe: { aim: [5, 4, 0], Dimmer: 0 } }
  right: { profile: moving-head, universe: 1, address: 41, position: [9, -3, 6], ${right}safe: { aim: [9, 4, 0], Dimmer: 0 } }
mappings:
  - { follow: { share: company, hold: 1 }, fixtures: [heads], set: { Dimmer: 80 } }
watchdog: { trackerSilent: { after: 0.4, fade: 1 }, feedSilent: { after: 0.6, fade: 1 }, rearm: 0.5, return: 0.6, turn: 0.3 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

const walk =
  (...people: readonly (readonly [x: number, y: number])[]) =>
  (t: number): Record<string, Place> =>
    Object.fromEntries(people.map(([x, y], i) => [i + 1, [x + 1.5 * Math.sin(t), y, 1.2]]));

const aimOf = (rig: Rig, head: string) => [rig.level(head, 'Pan'), rig.level(head, 'Tilt')];

describe('a head that is on nobody', () => {
  test('stays where it is, dark, whoever of the group walks where', () => {
    const rig = new Rig(room('', 'profile: narrow')).run(4, walk([5, 4]));
    expect(rig.light('mid').choice?.performer).toBe('ines');
    const before = ['left', 'right'].map(head => aimOf(rig, head));
    // To where the left one could not aim at her.
    rig.run(6, t => ({ 1: [5 + Math.min(4, t), 1, 1.2] }));
    expect(['left', 'right'].map(head => aimOf(rig, head))).toEqual(before);
    for (const head of ['left', 'right']) {
      expect(rig.level(head)).toBe(0);
      expect(rig.light(head).aim).toBeUndefined();
    }
    expect(rig.beamMisses('left', [1, 4, 0])).toBeLessThan(0.05);
    expect(rig.eventsOf('reach')).toEqual([]);
  });

  test('goes to its safe aim with the others, stays there when one is back, and takes the next', () => {
    const rig = new Rig(room('')).run(5, walk([2, 4], [8, 4])).run(5, {});
    for (const [head, x] of [['left', 1], ['mid', 5], ['right', 9]] as const) // biome-ignore format: one row
      expect(rig.beamMisses(head, [x, 4, 0])).toBeLessThan(0.05);
    rig.run(5, walk([2, 4]));
    expect(rig.level('left')).toBeCloseTo(80, 0);
    for (const [head, x] of [
      ['mid', 5],
      ['right', 9],
    ] as const) {
      expect(rig.level(head)).toBe(0);
      expect(rig.beamMisses(head, [x, 4, 0])).toBeLessThan(0.05);
    }
    rig.run(5, walk([2, 4], [8, 4]));
    expect(rig.level('right')).toBeCloseTo(80, 0);
    const { x = 0, y = 0, z = 0 } = rig.view.performers[1]?.estimate ?? {};
    expect(rig.beamMisses('right', [x, y, z])).toBeLessThan(0.3);
  });

  test('lights what its base says, where that aims, until it is given somebody', () => {
    const rig = new Rig(room('base: { aim: [7, 7, 0], Dimmer: 20 }, ')).run(6, walk([2, 4]));
    expect(rig.light('left').choice?.performer).toBe('ines');
    const isAtBase = () => {
      expect(rig.level('right')).toBeCloseTo(20, 0);
      expect(rig.beamMisses('right', [7, 7, 0])).toBeLessThan(0.05);
    };
    isAtBase();
    rig.run(4, walk([2, 4]));
    isAtBase();
    rig.run(5, walk([2, 4], [8, 4]));
    expect(rig.light('right').choice?.performer).toBe('tobias');
    expect(rig.level('right')).toBeCloseTo(80, 0);
    // Off stage, and not lost: then it would be at its safe look.
    rig.order({ kind: 'off', performer: 'tobias', cause: 'command' });
    rig.run(6, walk([2, 4]));
    isAtBase();
  });
});

test('a keep-out is told only where it keeps a light dark', () => {
  const asked = KEPT.replace('follow: ines,', 'follow: ines, when: at-stove,').replace(
    'mappings:',
    'signals: { tobias-there: { presence: { zone: stove, of: tobias } } }\nconditions: { at-stove: { signal: tobias-there, on: 0.5 } }\nmappings:',
  );
  const sway = (t: number): Place => [5 + 0.02 * Math.sin(t), 0.4, 1.2];
  const rig = new Rig(asked).run(6, t => ({ 1: sway(t), 2: [8, 3, 1.2] }));
  const told = () => rig.eventsOf('keep-out').filter(({ fixture }) => fixture === 'back');
  expect(rig.beamMisses('back', [5, 0.4, 1.2])).toBeLessThan(0.1);
  expect(told()).toEqual([]);
  // Now its light is asked, where it may not be.
  rig.run(4, t => ({ 1: sway(t), 2: [2 + 0.02 * Math.sin(t), 6, 1.2] }));
  expect(rig.level('back')).toBe(0);
  expect(told()).toMatchObject([{ fixture: 'back', keepOut: 'audience', barred: true }]);
});

test.each([
  ['the highest wins', ''],
  [
    'merged',
    '  - { name: shimmer, by: wave, fixtures: [left, mid], mix: scale, from: { Dimmer: 90 }, set: { Dimmer: 100 } }\n',
  ],
])('what the cue before showed of somebody is not shown of nobody: %s', (_, shimmer) => {
  // Two heads for two people; in the next cue only one of them has one of the heads.
  const both = shimmer === '' ? '' : ', shimmer';
  const cued = room('').replace(
    /mappings:\n.*\n/,
    `mappings:
  - { name: all, follow: { share: company, hold: 1 }, fixtures: [left, mid], set: { Dimmer: 80 } }
  - { name: one, follow: { share: [ines] }, fixtures: [left, mid], set: { Dimmer: 40 } }
  - { name: glow, by: wave, fixtures: [right], set: { Dimmer: 5 } }
${shimmer}signals: { wave: { wave: { shape: sine, period: 9 } } }
cues: { both: { mappings: [all, glow${both}] }, ines: { mappings: [one, glow${both}], fade: 6 } }
`,
  );
  const rig = new Rig(cued).run(6, walk([2, 4], [8, 4]));
  for (const head of ['left', 'mid']) expect(rig.level(head)).toBeGreaterThan(70);
  rig.order({ kind: 'cue', to: { name: 'ines' }, cause: 'command', id: 1 });
  rig.run(1, walk([2, 4], [8, 4]));
  const on = (head: string) => rig.light(head).choice?.performer;
  const free = on('left') === undefined ? 'left' : 'mid';
  expect(on(free)).toBeUndefined();
  const levels: number[] = [];
  for (let t = 0; t < 60; t++) {
    rig.run(0.1, walk([2, 4], [8, 4]));
    levels.push(rig.level(free));
  }
  expect(Math.max(...levels)).toBe(0);
  expect(rig.level(free === 'left' ? 'mid' : 'left')).toBeGreaterThan(30);
});
