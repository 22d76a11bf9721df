import { expect, test } from 'vitest';
import { Rig } from './harness.js';

/** Two heads that pan 45 degrees to either side: at y = 2 the one reaches up to x = 5, the other down to it. */
const show = (extra: string, keep = '') => `
lampwright: 1
name: Flicker
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
groups: { company: [ines, tobias] }
${keep}
profiles:
  short:
    optics: { fieldAngle: 14 }
    channels: [{ attribute: Pan, bits: 16, range: [-45, 45] }, { attribute: Tilt, bits: 16, range: [-90, 90] }, { attribute: Dimmer, bits: 16 }]
fixtures:
  a: { profile: short, universe: 1, address: 1, position: [0, -3, 6], safe: { Dimmer: 0 } }
  b: { profile: short, universe: 1, address: 21, position: [10, -3, 6], safe: { Dimmer: 0 } }
mappings:
  - { follow: { share: company${extra} }, fixtures: [a, b], set: { Dimmer: 80 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

/** How she is lit, and how often her head changed. */
function walked(text: string, at: (t: number) => readonly [number, number]) {
  const rig = new Rig(text);
  let lit = 0;
  let ticks = 0;
  rig.run(
    12,
    t => ({ '1': [...at(t), 1.5] as const }),
    ({ level }) => {
      ticks += 1;
      if (level.call(rig, 'a') + level.call(rig, 'b') > 10) lit += 1;
    },
  );
  const { length: changes } = rig.eventsOf('hand-over');
  return { lit: lit / ticks, changes, told: rig.eventsOf('reach').length };
}

test.each([
  ['half a metre', '', 0.5, 3],
  ['half a metre, crossed over', ', change: cross', 0.5, 3],
  ['half a metre, without a hold', ', hold: 0', 0.5, 3],
  ['a step', '', 0.2, 9],
  ['as much as she is tracked badly', '', 0.05, 40],
])('who moves by %s along the edge of what two heads reach keeps hers', (_, how, byM, radPerS) => {
  const { lit, changes, told } = walked(show(how), t => [5 + byM * Math.sin(radPerS * t), 2]);
  expect(changes).toBe(1);
  expect(lit).toBeGreaterThan(0.8);
  // Of an edge nothing is told in every tick.
  expect(told).toBeLessThan(25);
});

test('far beyond it the other one has her, once', () => {
  const { lit, changes } = walked(show(''), t => [Math.min(9, 1 + t), 2]);
  expect(changes).toBeLessThanOrEqual(4);
  expect(lit).toBeGreaterThan(0.7);
});

test('along a keep-out her head waits for her in the dark; where all of the floor is one, nothing is lit', () => {
  const pit = 'keepOut: { pit: { circle: { centre: [5, 3], radius: 0.5 }, height: [0, 1] } }';
  const along = walked(show('', pit), t => [4.2 + 0.3 * Math.sin(3 * t), 4.5]);
  expect(along.changes).toBe(1);
  const floor =
    'keepOut: { all: { polygon: [[-1, -1], [11, -1], [11, 9], [-1, 9]], height: [0, 2] } }';
  expect(walked(show('', floor), t => [5 + 0.3 * Math.sin(3 * t), 3]).lit).toBe(0);
});
