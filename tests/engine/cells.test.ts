import { expect, test } from 'vitest';
import { Rig } from './harness.js';

/** A bar of three cells that doesn't move: one rests on Ines, one on Tobias, one on both. */
const BAR = `
lampwright: 1
name: Cells
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
zones: { stage: { polygon: [[0, 0], [10, 0], [10, 8], [0, 8]] } }
profiles: { bar: { channels: [{ attribute: Shutter1, slots: [1], values: { closed: [0, 9], open: [10, 19] }, default: open }, { attribute: Dimmer, slots: [2], copies: [[3], [4]] }] } }
fixtures: { bar: { profile: bar, universe: 1, address: 1, cells: {}, safe: { Dimmer: 10 } } }
mappings:
  - { zone: stage, performers: [ines], fixtures: [bar-1], set: { Dimmer: 80 } }
  - { zone: stage, performers: [tobias], fixtures: [bar-2], set: { Dimmer: 80 } }
  - { zone: stage, performers: [ines, tobias], fixtures: [bar-3], set: { Dimmer: 80 } }
watchdog: { trackerSilent: { after: 0.4, fade: 1 }, feedSilent: { after: 3, fade: 1 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

test('of a bar of cells only those are safe that rest on whoever is lost', () => {
  const both = (t: number) => ({ 1: [3, 4 + 0.1 * Math.sin(9 * t), 1.2], 2: [7, 4 + 0.1 * Math.sin(7 * t), 1.2] }) as const; // biome-ignore format: one row
  const rig = new Rig(BAR).run(4, both);
  const levels = () => ['bar-1', 'bar-2', 'bar-3'].map(cell => Math.round(rig.level(cell)));
  expect(levels()).toEqual([80, 80, 80]);
  rig.run(4, t => ({ 2: both(t)[2] }));
  expect(rig.phase('ines')).toBe('safe');
  // What rests on both stays lit by the one who is there.
  expect(levels()).toEqual([10, 80, 80]);
  expect(rig.view.levels[0]).toBe(14);
});
