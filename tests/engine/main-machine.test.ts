import { expect, test } from 'vitest';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import type { OscArgument } from '../../src/protocols/osc/library.js';
import { Rig } from './harness.js';

/** What the main machine of two says to the other one, again and again. */
const SHOW = `
lampwright: 1
name: Two machines
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
operator: { port: 9011 }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
groups: { company: [ines, tobias] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1 }
  sea: { profile: dimmer, universe: 1, address: 2 }
  left: { profile: moving-head, universe: 1, address: 11, position: [1, -3, 6] }
  right: { profile: moving-head, universe: 1, address: 41, position: [9, -3, 6] }
mappings:
  - { name: stove, zone: stove, fixtures: [glow], set: { Dimmer: 80 } }
  - { name: sea, zone: stove, fixtures: [sea], set: { Dimmer: 60 } }
  - { name: shared, follow: { share: company }, fixtures: [left, right], set: { Dimmer: 70 } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
const PLACES = { 1: [2, 6], 2: [8, 5] } as const;
const MAIN = '10.0.0.5';

/** @returns one that has been running, and how it is told something: texts, and whether something is so */
function rigThatHears() {
  const rig = new Rig(SHOW);
  const sayFrom = (from: string | undefined, what: string, ...words: (string | boolean)[]) => {
    const args = words.map(
      (value): OscArgument =>
        typeof value === 'string' ? { type: 's', value } : { type: 'i', value: value ? 1 : 0 },
    );
    const bytes = encodePacket({ address: `/lampwright/${what}`, args });
    rig.receive(bytes, rig.nowS, rig.show.operator?.input, from);
    rig.run(2 / 40, PLACES);
  };
  const say = (what: string, ...words: string[]) => sayFrom(MAIN, what, ...words);
  rig.run(3, PLACES);
  return { rig, say, sayFrom };
}

test('the mappings that the main machine has off are off, and no others; each change is told once', () => {
  const { rig, say } = rigThatHears();
  const off = () => rig.view.mappings.slice(0, 2).map(one => one.off);
  for (let i = 0; i < 3; i++) say('mappings', 'main', 'stove');
  expect(off()).toEqual([true, false]);
  rig.run(2, PLACES);
  expect([rig.level('glow'), rig.level('sea')]).toEqual([0, expect.closeTo(60, 0)]);
  for (let i = 0; i < 3; i++) say('mappings', 'main', 'sea');
  expect(off()).toEqual([false, true]);
  // The show of the main machine may be another one.
  say('mappings', 'main', 'sea', 'attic');
  expect(rig.view.counters.drops).toMatchObject({ 'unknown-mapping': 1 });
  say('mappings', 'main');
  expect(off()).toEqual([false, false]);
  const by = { cause: 'command', by: MAIN };
  expect(rig.eventsOf('mapping')).toMatchObject([
    { mapping: 'stove', off: true, ...by },
    { mapping: 'stove', off: false, ...by },
    { mapping: 'sea', off: true, ...by },
    { mapping: 'sea', off: false, ...by },
  ]);
  // It fades back as it does for an operator of this machine.
  const before = rig.level('sea');
  say('mappings', 'main');
  expect(rig.level('sea') - before).toBeLessThan((2 * 60) / 40 + 100 / 255);
  rig.run(2, PLACES);
  expect(rig.level('sea')).toBeCloseTo(60, 0);
});

test('the heads that the main machine has pinned are pinned, and no others; each change is told once', () => {
  const { rig, say } = rigThatHears();
  const pinned = () => ['left', 'right'].map(head => rig.light(head).choice?.pinnedTo);
  for (let i = 0; i < 3; i++) say('pins', 'main', 'left', 'ines', 'right', 'tobias');
  expect(pinned()).toEqual(['ines', 'tobias']);
  for (let i = 0; i < 3; i++) say('pins', 'main', 'right', 'tobias');
  expect(pinned()).toEqual([undefined, 'tobias']);
  say('pins', 'main');
  expect(pinned()).toEqual([undefined, undefined]);
  // One that somebody pins by an order of its own lets no other go.
  say('pin', 'left', 'ines');
  say('pin', 'right', 'ines');
  expect(pinned()).toEqual(['ines', 'ines']);
  expect(rig.eventsOf('pin').map(({ fixture, performer, by }) => [fixture, performer, by])).toEqual(
    [
      ['left', 'ines', MAIN],
      ['right', 'tobias', MAIN],
      ['left', undefined, MAIN],
      ['right', undefined, MAIN],
      ['left', 'ines', MAIN],
      ['right', 'ines', MAIN],
    ],
  );
});

test('who is stopped or off stage at the main machine is so here, and it says who said so', () => {
  const { rig, sayFrom } = rigThatHears();
  sayFrom(
    MAIN,
    'performers',
    'main',
    false,
    'ines',
    true,
    'on',
    'tobias',
    false,
    'leaving',
    'mara',
    false,
    'on',
  );
  expect(rig.view.counters.drops).toMatchObject({ 'unknown-performer': 1 });
  expect(rig.view.performers.map(({ phase }) => phase)).toEqual(['losing', 'off']);
  expect(rig.eventsOf('stopped')).toMatchObject([
    { performers: ['ines'], by: `the main machine, ${MAIN}` },
  ]);
  expect(rig.eventsOf('off-stage')).toMatchObject([
    { performers: ['tobias'], state: 'leaving', by: `the main machine, ${MAIN}` },
  ]);
  sayFrom(undefined, 'performers', 'main', false, 'ines', false, 'on', 'tobias', false, 'on');
  expect(rig.eventsOf('resumed')).toMatchObject([{ performers: ['ines'], by: 'the main machine' }]);
  expect(rig.eventsOf('off-stage').at(-1)).toMatchObject({
    performers: ['tobias'],
    state: 'on',
    by: 'the main machine',
  });
});
