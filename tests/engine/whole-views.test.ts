import { describe, expect, test } from 'vitest';
import { snapshot } from '../../src/engine/snapshot.js';
import { ENABLE_REASONS, ENABLE_WORDS } from '../../src/engine/values/enable-reasons.js';
import type { OperatorAction } from '../../src/engine/values/operator-action.js';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { showOf } from '../show/show-of.js';
import { type Place, Rig } from './harness.js';
import { KEPT } from './keep-out-show.js';
import { richHouse, richShow } from './rich-house.js';

/** Each in a zone of their own; of Mara nothing is heard. */
const PLACES = { 1: [2, 6], 5: [2, 6], 2: [8.2, 7], 3: [5, 4] } as const satisfies Record<
  string,
  Place
>;
const WITH_MARA = { ...PLACES, 4: [6, 5] } as const;
const sway = (places: Readonly<Record<string, Place>>) => (t: number) =>
  Object.fromEntries(
    Object.entries(places).map(([id, [x, y]]) => [
      id,
      [x + 0.01 * Math.sin(9 * t), y, 1.5] as const,
    ]),
  );
const rich = (show = richShow(), places: Readonly<Record<string, Place>> = PLACES) => {
  const rig = new Rig(show);
  rig.hear(0, { 1: 255 });
  return rig.run(6, sway(places));
};
const choiceOf = (rig: Rig, head: string) => {
  const { candidates, mapping, ...rest } = rig.light(head).choice ?? {};
  return { ...rest, may: candidates?.() };
};
const osc = (rig: Rig, address: string, ...words: string[]) =>
  rig.receive(
    encodePacket({ address, args: words.map(value => ({ type: 's', value })) }),
    rig.nowS,
    1,
    '10.0.0.5',
  );

describe('the snapshot of a house in which one was never heard', () => {
  test('has where everybody is, and what is stopped', () => {
    const rig = rich();
    const { zones, performers, orders, feedSilent } = snapshot(rig.view);
    expect(zones).toEqual([
      { name: 'stove', presence: 1 },
      { name: 'seat', presence: 1 },
      { name: 'table', presence: 1 },
    ]);
    expect(performers.map(one => [one.name, one.phase, one.zones])).toEqual([
      ['ines', 'live', ['stove']],
      ['tobias', 'live', ['seat']],
      ['gull', 'live', ['table']],
      ['mara', 'waiting', []],
    ]);
    expect(orders).toEqual({
      allStopped: false,
      stopped: [],
      deskLost: false,
      hazards: [{ fixture: 'haze', hazard: 'atmospheric', gate: 'off', heldBy: [] }],
    });
    expect(feedSilent).toBe(false);
    rig.order({ kind: 'stop', performer: 'gull', cause: 'command' });
    rig.run(3, sway(PLACES));
    const after = snapshot(rig.view);
    expect(after.orders).toMatchObject({ allStopped: false, stopped: ['gull'] });
    // Of who is not believed no zone is told.
    expect(after.zones[2]).toEqual({ name: 'table', presence: 0 });
    expect(after.performers[2]?.zones).toEqual([]);
  });

  test('has on whom heads are that choose, and whom they may be on', () => {
    const rig = rich();
    const all = (cost: unknown) => [
      { performer: 'ines', tracked: true, cost },
      { performer: 'tobias', tracked: true, cost },
      { performer: 'gull', tracked: true, cost },
      { performer: 'mara', tracked: false, cost: undefined },
    ];
    expect(choiceOf(rig, 'near')).toMatchObject({
      ...{ rule: 'nearest', performer: 'gull', next: 'gull', pinned: false },
      may: all(undefined),
    });
    expect(choiceOf(rig, 'early')).toMatchObject({
      ...{ rule: 'first', performer: 'gull', next: 'gull', pinned: false },
      may: all(undefined).slice(0, 3),
    });
    const heads = ['left', 'mid', 'right'];
    for (const head of heads) {
      expect(choiceOf(rig, head)).toMatchObject({ rule: 'share', may: all(expect.any(Number)) });
    }
    const on = heads.map(head => rig.light(head).choice?.performer);
    expect(on.toSorted()).toEqual(['gull', 'ines', 'tobias']);
    expect(rig.light('glow').choice).toBeUndefined();
    expect(rig.light('pin').choice).toBeUndefined();
  });

  test('has who is in the middle of whom a head aims, and leaves out who is lost', () => {
    const rig = rich(richShow(), WITH_MARA);
    rig.order({ kind: 'cue', to: { name: 'storm' }, cause: 'command' });
    rig.run(5, sway(WITH_MARA));
    expect(rig.light('early').aim).toMatchObject({
      ...{ performer: 'gull', holds: ['gull', 'mara'], stage: 'live' },
      ...{ reachable: true, lagS: 0, intensityFactor: undefined },
    });
    expect(rig.beamMisses('early', [5.5, 4.5, 1.5])).toBeLessThan(0.15);
    expect(rig.light('early').choice).toBeUndefined();
    rig.run(3, sway(PLACES));
    expect(rig.light('early').aim?.holds).toEqual(['gull']);
    expect(rig.beamMisses('early', [5, 4, 1.5])).toBeLessThan(0.15);
    // A head that follows one holds nobody else.
    expect(rig.light('near').aim?.holds).toBeUndefined();
  });

  test('has the part of the room that a head is dark for', () => {
    const rig = new Rig(KEPT).run(4, { 1: [5, 5, 1.2] }).run(4, { 1: [5, 0.4, 1.2] });
    const back = snapshot(rig.view).fixtures.find(({ name }) => name === 'back');
    expect(back?.keepOut).toBe('audience');
    expect(Object.keys(snapshot(new Rig(KEPT).run(1).view).fixtures[0] ?? {})).not.toContain(
      'keepOut',
    );
  });
});

/** All that the answers to an order say of what it did. */
const answers = (rig: Rig) =>
  rig.eventsOf('operator-done').map(({ action, changed }) => [action.kind, changed]);

const COMMAND = { cause: 'command' } as const;
const TWICE: readonly OperatorAction[] = [
  { kind: 'stop', performer: 'ines', ...COMMAND },
  { kind: 'stop', performer: undefined, ...COMMAND },
  { kind: 'off', performer: 'ines', ...COMMAND },
  { kind: 'cue', to: { name: 'dawn' }, ...COMMAND },
  { kind: 'pin', fixture: 'left', performer: 'ines', ...COMMAND },
  { kind: 'mapping', mapping: 'glow', off: true, ...COMMAND },
  { kind: 'safe-look', held: true, ...COMMAND },
  { kind: 'highlight', fixture: 'glow', whileTracked: true, ...COMMAND },
  { kind: 'assign', tracker: '7', performer: 'ines', ...COMMAND },
];

test.for(TWICE)('an order that is given twice changes something once: $kind', order => {
  const rig = rich();
  for (const id of [1, 2]) {
    rig.order({ ...order, id });
    rig.run(1, sway(PLACES));
  }
  expect(answers(rig)).toEqual([
    [order.kind, true],
    [order.kind, false],
  ]);
});

test('who are stopped one by one are told of once more when everybody is, and not again', () => {
  const rig = rich(richShow(), WITH_MARA);
  for (const performer of ['ines', 'tobias', 'gull', 'mara']) {
    rig.order({ kind: 'stop', performer, cause: 'command' });
  }
  rig.run(0.1, sway(WITH_MARA));
  for (let i = 0; i < 2; i++) {
    rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
    rig.run(0.1, sway(WITH_MARA));
  }
  expect(
    rig.eventsOf('stopped').map(one => [one.performers.length, one.everybody, one.stopOfEverybody]),
  ).toEqual([
    [4, false, false],
    [0, true, true],
  ]);
});

test('what the main machine says of its pins lets all others go', () => {
  const rig = rich();
  for (const fixture of ['left', 'near']) {
    rig.order({ kind: 'pin', fixture, performer: 'ines', cause: 'command' });
  }
  rig.run(1, sway(PLACES));
  osc(rig, '/lampwright/pins', 'main', 'left', 'tobias');
  rig.run(1, sway(PLACES));
  expect(rig.eventsOf('pin').slice(2)).toEqual([
    expect.objectContaining({ fixture: 'left', performer: 'tobias', by: '10.0.0.5' }),
    expect.objectContaining({ fixture: 'near', performer: undefined, by: '10.0.0.5' }),
  ]);
  expect([rig.light('left'), rig.light('near')].map(({ choice }) => choice?.pinned)).toEqual([
    true,
    false,
  ]);
});

test('a cue of a person is a sign of life of the desk, and one that a machine repeats is none', () => {
  const show = showOf(richHouse().replace('{ port: 9011 }', '{ port: 9011, desk: reported }'));
  const lost = (...words: string[]) => {
    const rig = rich(show);
    for (let i = 0; i < 8; i++) {
      osc(rig, '/lampwright/cue', ...words);
      rig.run(1, sway(PLACES));
    }
    return snapshot(rig.view).orders.deskLost;
  };
  expect(lost('evening')).toBe(false);
  expect(lost('evening', 'main')).toBe(true);
});

test('a latched enable says that it has to be released, and when pressing again helps', () => {
  const words = ENABLE_REASONS.map(reason => ENABLE_WORDS[reason]);
  expect(new Set(words).size).toBe(ENABLE_REASONS.length);
  for (const reason of ENABLE_REASONS.slice(3)) {
    expect(ENABLE_WORDS[reason]).toMatch(/^[a-z].+\. Release, and press again( once .+)?$/);
  }
});
