import { expect, test } from 'vitest';
import { createEngine } from '../../../src/engine/engine.js';
import { takeOver } from '../../../src/engine/take-over/take-over.js';
import { viewOf } from '../../../src/engine/view.js';
import { showOf } from '../../show/show-of.js';
import { Rig } from '../harness.js';

const SHOW = (signals: string, conditions: string, mapping: string) => `
lampwright: 1
name: Signals that are edited
stage: { x: [0, 20], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
receivers: { sound: { address: 127.0.0.1, port: 9030 } }
performers: { ines: { trackers: [1] } }
signals: { ${signals} }
conditions: { ${conditions} }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 0 } }
mappings:
  - { name: glow, ${mapping}, fixtures: [glow], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
reload: 1
`;

function reload(rig: Rig, yaml: string): void {
  const next = createEngine(showOf(yaml));
  takeOver(next, rig.engine);
  Object.assign(rig, { engine: next, view: viewOf(next), show: next.show });
}

const sway = (x: number) => (t: number) => ({
  1: [x + 0.01 * Math.sin(40 * t), 4 - 0.01 * Math.sin(40 * t), 1.6] as const,
});

/** At 2 m/s, so that nobody has jumped. */
const walk = (from: number, to: number) => (t: number) => {
  const x = from + Math.sign(to - from) * Math.min(2 * t, Math.abs(to - from));
  return sway(x)(t);
};

test('a signal in metres that gets a range and a release begins afresh, and lights nothing', () => {
  const slow = 'away: { distance: [ines, [2, 4]], range: [6, 1], attack: 1, release: 60 }';
  const before = SHOW(
    'away: { distance: [ines, [2, 4]] }',
    'far: { signal: away, on: 18 }',
    'when: far',
  );
  const rig = new Rig(before).run(4, sway(10));
  reload(rig, SHOW(slow, 'far: { signal: away, on: 0.9 }', 'by: away'));
  rig.run(4, sway(10), () => expect(rig.level('glow')).toBeLessThan(1));
});

test('a signal of which only the range changes begins where it is, however slow it is', () => {
  const by = (range: string) =>
    SHOW(
      `away: { distance: [ines, [2, 4]], range: ${range}, attack: 60, release: 60 }`,
      '',
      'by: away',
    );
  const rig = new Rig(by('[0, 10]')).run(4, sway(10));
  expect(rig.level('glow')).toBeCloseTo(80, 0);
  reload(rig, by('[0, 16]'));
  rig.run(3, sway(10));
  expect(rig.level('glow')).toBeCloseTo(50, 0);
});

test('a condition that is held goes on for the time that it has now', () => {
  const held = (seconds: number) =>
    SHOW(
      'away: { distance: [ines, [2, 4]] }',
      `near: { signal: away, below: 3, hold: ${seconds} }`,
      'when: near',
    );
  const rig = new Rig(held(120)).run(3, sway(3)).run(3, sway(10));
  expect(rig.level('glow')).toBeCloseTo(100, 0);
  reload(rig, held(4));
  rig.run(2, sway(10));
  expect(rig.level('glow')).toBeCloseTo(100, 0);
  rig.run(4, sway(10));
  expect(rig.level('glow')).toBe(0);
});

test('a save starts nothing, and what was entered is left, whatever is told of it now', () => {
  const near = (below: number, leave: string) =>
    SHOW(
      'away: { distance: [ines, [2, 4]] }',
      `near: { signal: away, below: ${below} }`,
      'when: near',
    ) +
    `actions:
  - { condition: near, send: sound, address: /go }
  - { condition: near, on: leave, send: sound, address: ${leave} }
`;
  const told = (rig: Rig) => rig.eventsOf('action').map(({ address }) => address);
  const rig = new Rig(near(3, '/stop')).run(4, sway(10));
  reload(rig, near(12, '/stop'));
  rig.run(2, sway(10));
  expect(told(rig)).toEqual([]);
  rig.run(5, walk(10, 18)).run(5, walk(18, 10));
  expect(told(rig)).toEqual(['/go']);
  reload(rig, near(12, '/halt'));
  rig.run(5, walk(10, 18));
  expect(told(rig)).toEqual(['/go', '/halt']);
});

test.each([
  ['is as it was', 3, ['low', 'high']],
  ['is another one, and yes at once', 12, ['low']],
])('a cue whose condition %s: a save starts nothing', (_, below, cues) => {
  const near = (limit: number) =>
    `${SHOW('away: { distance: [ines, [2, 4]] }', `near: { signal: away, below: ${limit} }`, 'when: near')}cues: { low: { mappings: [glow] }, high: { mappings: [glow], fire: near } }
`;
  const rig = new Rig(near(3)).run(4, sway(10));
  reload(rig, near(below));
  rig.run(2, sway(10)).run(6, walk(10, 2));
  expect(['low', ...rig.eventsOf('cue').map(({ cue }) => cue)]).toEqual(cues);
});
