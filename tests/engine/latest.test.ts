import { expect, test } from 'vitest';
import { type Place, Rig } from './harness.js';

/** A lamp of which two mappings by signals ask for a colour. */
const SHOW = (rest: string) => `
lampwright: 1
name: Latest
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1 }, feather: 0 }
  seat: { circle: { centre: [8, 6], radius: 1 }, feather: 0 }
fixtures:
  wash: { profile: rgb, universe: 1, address: 1 }
signals:
  at-stove: { presence: { zone: stove, of: ines } }
  at-seat: { presence: { zone: seat, of: tobias } }
${rest}
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
const AT_ONCE = 'fade: { in: 0, out: 0 }';
const RED = '{ Dimmer: 80, ColorAdd_R: 100, ColorAdd_B: 0 }';
const BLUE = '{ Dimmer: 80, ColorAdd_R: 0, ColorAdd_B: 100 }';
const colour = (rig: Rig) =>
  ['ColorAdd_R', 'ColorAdd_B'].map(one => Math.round(rig.level('wash', one)));

/** Walks there at 1.4 m/s. */
function walk(rig: Rig, from: Record<string, Place>, to: Record<string, Place>): void {
  rig.run(4, t => {
    const share = Math.min(1, t / 3);
    return Object.fromEntries(
      Object.entries(from).map(([id, [x, y]]) => {
        const [toX, toY] = to[id] ?? [x, y];
        const sway = 0.01 * Math.sin(40 * t);
        return [id, [x + share * (toX - x) + sway, y + share * (toY - y)] as const];
      }),
    );
  });
}

test('of two that ask for a colour the one that came last has it, whichever is listed first', () => {
  const rig = new Rig(
    SHOW(`mappings:
  - { by: at-stove, fixtures: [wash], set: ${RED}, ${AT_ONCE} }
  - { by: at-seat, fixtures: [wash], set: ${BLUE}, ${AT_ONCE} }`),
  );
  const [off, stove, seat] = [
    [5, 4],
    [2, 6],
    [8, 6],
  ] as const;
  rig.run(3, t => ({ 1: [5 + 0.01 * Math.sin(40 * t), 4], 2: [5, 4 + 0.01 * Math.sin(40 * t)] }));
  walk(rig, { 1: off, 2: off }, { 1: stove });
  expect(colour(rig)).toEqual([100, 0]);
  walk(rig, { 1: stove, 2: off }, { 2: seat });
  expect(colour(rig)).toEqual([0, 100]);
  walk(rig, { 1: stove, 2: seat }, { 1: off });
  expect(colour(rig)).toEqual([0, 100]);
  walk(rig, { 1: off, 2: seat }, { 1: stove });
  expect(colour(rig)).toEqual([100, 0]);
});

test('one that goes from a value to another has the colour from when its cue comes on', () => {
  const rig = new Rig(
    SHOW(`mappings:
  - { name: late, by: at-seat, fixtures: [wash], from: ${BLUE}, set: ${BLUE}, ${AT_ONCE} }
  - { name: early, by: at-stove, fixtures: [wash], from: ${RED}, set: ${RED}, ${AT_ONCE} }
cues: { one: { mappings: [early] }, two: { mappings: [late, early], fade: 0 } }`),
  );
  const still = { 1: [5, 4], 2: [5, 4] } as const;
  walk(rig, still, {});
  expect(colour(rig)).toEqual([100, 0]);
  rig.order({ kind: 'cue', to: 'next', cause: 'command' });
  walk(rig, still, {});
  expect(colour(rig)).toEqual([0, 100]);
});
