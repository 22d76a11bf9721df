import { describe, expect, it } from 'vitest';
import { OperatorMemory, readOperatorState } from '../../src/daemon/memory/memory.js';
import { createEngine } from '../../src/engine/engine.js';
import { takeOver } from '../../src/engine/take-over/take-over.js';
import { viewOf } from '../../src/engine/view.js';
import { Rig } from './harness.js';

const SHOW = `
lampwright: 1
name: Off
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
operator: { port: 9011, enableTimeout: 0.5 }
performers:
  ines: { trackers: [1] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 }
profiles:
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }] }
signals:
  near: { distance: [ines, glow], range: [4, 1] }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1, position: [2, 6, 1], base: { Dimmer: 10 }, safe: { Dimmer: 20 } }
  sea: { profile: dimmer, universe: 1, address: 2 }
  haze: { profile: hazer, universe: 1, address: 9, base: { Haze1: 40 }, safe: { Haze1: 0 } }
mappings:
  - { name: stove, zone: stove, fixtures: [glow], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }
  - { name: sea, by: near, fixtures: [sea], set: { Dimmer: 60 }, fade: { in: 0, out: 0 } }
CUES
watchdog: { trackerSilent: { after: 0.5, fade: 2 }, feedSilent: { after: 0.75, fade: 2 }, rearm: 0.5, return: 1 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
const PLAIN = SHOW.replace('CUES', '');
const CUES = SHOW.replace(
  'CUES',
  'cues: { first: { mappings: [stove, sea], fade: 2 }, second: { mappings: [stove: 50, sea], fade: 2 } }',
);
const INES = { 1: [2, 6, 1] } as const;

const turn = (rig: Rig, mapping: string, off: boolean) =>
  rig.order({ kind: 'mapping', mapping, off, cause: 'command', id: 1 });

describe.each([
  ['without cues', PLAIN],
  ['with cues', CUES],
])('a mapping that an operator has off, in a show %s', (_, text) => {
  it('acts no more within a second, without a jump, and comes back in the same time', () => {
    const rig = new Rig(text).run(6, INES);
    expect(rig.level('glow')).toBeCloseTo(80, 0);
    expect(rig.level('sea')).toBeCloseTo(60, 0);
    let before = rig.level('glow');
    const steps: number[] = [];
    const note = () => {
      steps.push(Math.abs(rig.level('glow') - before));
      before = rig.level('glow');
    };
    turn(rig, 'stove', true);
    turn(rig, 'sea', true);
    rig.run(1.1, INES, note);
    expect(rig.level('glow')).toBeCloseTo(10, 0);
    expect(rig.level('sea')).toBe(0);
    expect(rig.view.mappings[0]).toMatchObject({ off: true, level: 0, acts: 1 });
    turn(rig, 'stove', false);
    rig.run(1.1, INES, note);
    expect(rig.level('glow')).toBeCloseTo(80, 0);
    // 80 per cent in 40 ticks, and a step of 8 bits.
    expect(Math.max(...steps)).toBeLessThan(80 / 40 + 100 / 255);
    expect(rig.eventsOf('mapping')).toMatchObject([
      { mapping: 'stove', off: true },
      { mapping: 'sea', off: true },
      { mapping: 'stove', off: false },
    ]);
  });

  it('still takes its fixtures to their safe values when who drives it is lost', () => {
    const rig = new Rig(text).run(6, INES);
    turn(rig, 'stove', true);
    rig.run(2, INES).run(4, {});
    expect(rig.level('glow')).toBeCloseTo(20, 0);
  });

  it('stays off in the show that a reload brings, and after a restart', () => {
    const rig = new Rig(text).run(6, INES);
    turn(rig, 'stove', true);
    rig.run(2, INES);
    const next = createEngine(rig.show);
    takeOver(next, rig.engine);
    expect(viewOf(next).mappings[0]?.off).toBe(true);

    const memory = new OperatorMemory(rig.show, undefined);
    for (const event of rig.events) memory.hear(event);
    const kept = readOperatorState(JSON.parse(JSON.stringify(memory.state)));
    if (typeof kept === 'string') throw new Error(kept);
    const again = new Rig(text);
    for (const action of new OperatorMemory(again.show, kept).restored()) again.order(action);
    again.run(6, INES);
    expect(again.level('glow')).toBeCloseTo(10, 0);
    expect(again.level('sea')).toBeCloseTo(60, 0);
  });
});

it('has no say in a crossfade between cues either', () => {
  const rig = new Rig(CUES).run(6, INES);
  turn(rig, 'stove', true);
  rig.run(2, INES);
  rig.order({ kind: 'cue', to: 'next', cause: 'command', id: 1 });
  rig.run(4, INES, () => expect(rig.level('glow')).toBeCloseTo(10, 0));
});

it('is refused where the show has no such mapping', () => {
  const rig = new Rig(PLAIN).run(1, INES);
  turn(rig, 'stoove', true);
  rig.tick();
  expect(rig.eventsOf('operator-refused')[0]?.reason).toBe('the show has no mapping "stoove"');
});

it('a hand on the panel holds an enable for as long as it says so', () => {
  const rig = new Rig(PLAIN).run(6, INES);
  const hold = (held: boolean) =>
    rig.order({ kind: 'hold', hazard: 'atmospheric', held, cause: 'command', by: 'panel', id: 1 });
  const haze = () => rig.view.hazards[0]?.gate;
  for (let i = 0; i < 10; i++) {
    hold(true);
    rig.run(0.2, INES);
    expect(haze()).toBe('on');
  }
  // Nothing more comes: a page that hangs, a network that is cut.
  rig.run(0.6, INES);
  expect(haze()).toBe('off');
  hold(true);
  rig.run(0.1, INES);
  expect(haze()).toBe('on');
  hold(false);
  rig.tick();
  expect(haze()).toBe('off');
});
