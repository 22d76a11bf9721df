import { expect, test } from 'vitest';
import { Rig } from './harness.js';

const SHOW = `
lampwright: 1
name: Levels
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
operator: { port: 9011 }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 2 }, feather: 2 }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }
  sea: { profile: dimmer, universe: 1, address: 2, position: [2, 6, 1] }
signals:
  near: { distance: [ines, sea], range: [4, 0] }
mappings:
  - { name: stove, zone: stove, performers: [ines, tobias], fixtures: [glow], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }
  - { name: near, by: near, fixtures: [sea], set: { Dimmer: 60 }, fade: { in: 0, out: 0 } }
  - { name: sway, by: near, fixtures: [glow], set: { Dimmer: 10 }, fade: { in: 0, out: 0 }, always: true }
watchdog: { trackerSilent: { after: 0.5, fade: 2 }, feedSilent: { after: 5, fade: 2 }, rearm: 0.5, return: 1 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

test('what a mapping does is its highest level; what of it shows goes down with the trust in whom it rests on', () => {
  const rig = new Rig(SHOW).run(4, { 1: [2, 6], 2: [2, 3] });
  const [stove, near] = rig.view.mappings;
  const [signal] = rig.view.signals;
  // Ines is at the middle of the zone, and Tobias at its edge.
  expect(stove).toMatchObject({
    acts: 1,
    level: expect.closeTo(1, 2),
    shows: expect.closeTo(1, 2),
  });
  expect(near?.level).toBeGreaterThan(0.8);
  expect(near?.shows).toBeCloseTo(near?.level ?? 0, 6);
  expect(signal?.least).toBe(signal?.greatest);
  expect(signal?.least).toBeCloseTo(near?.level ?? 0, 6);

  rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
  rig.run(0.5, { 1: [2, 6], 2: [2, 3] });
  // Half of the second in which a stop fades.
  expect(near?.shows).toBeGreaterThan(0.3);
  expect(near?.shows).toBeLessThan(0.7);
  // Where she is now, nobody knows.
  expect(signal).toMatchObject({ least: 0, greatest: 1 });
  expect(signal?.kept).toBeGreaterThan(0.8);
  rig.run(1, { 1: [2, 6], 2: [2, 3] });
  expect(near?.shows).toBe(0);
  // What is left is what Tobias has there.
  expect(stove?.shows).toBeGreaterThan(0.1);
  expect(stove?.shows).toBeLessThan(0.6);
  rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
  rig.run(1.5, { 1: [2, 6], 2: [2, 3] });
  expect(rig.view.mappings.map(({ shows }) => shows)).toEqual([0, 0, 0]);
});

test('a wheel that goes with a signal is at one value or the other, and never between', () => {
  const rig = new Rig(
    SHOW.replace(
      'fixtures:\n',
      `profiles:
  wheel: { channels: [{ attribute: Dimmer }, { attribute: Color1, values: { open: 0, amber: 60, blue: 120 } }] }
fixtures:
  lamp: { profile: wheel, universe: 1, address: 11 }
`,
    ).replace(
      'mappings:\n',
      'mappings:\n  - { by: near, fixtures: [lamp], from: { Dimmer: 10, Color1: amber }, set: { Dimmer: 60, Color1: blue }, fade: { in: 0, out: 0 }, always: true }\n',
    ),
  ).run(3, { 1: [9, 1] });
  const lamp = () => [...rig.view.levels.subarray(10, 12)];
  expect(lamp()).toEqual([26, 60]);
  const wheel = new Set<number>();
  const dimmer: number[] = [];
  // From 8 m away to 1 m, at 1.4 m/s.
  rig.run(
    5,
    t => ({ 1: [9 - 1.2 * t, 1 + 0.8 * t] }),
    () => {
      const [level = 0, place = 0] = lamp();
      if (dimmer.length > 0 && level > 26) expect(place).toBe(120);
      dimmer.push(level);
      wheel.add(place);
    },
  );
  expect([...wheel]).toEqual([60, 120]);
  expect(Math.max(...dimmer)).toBeGreaterThan(100);
});
