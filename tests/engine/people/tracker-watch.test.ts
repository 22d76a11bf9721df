import { describe, expect, test } from 'vitest';
import { answerInWords } from '../../../src/daemon/asking/answers.js';
import { createEngine } from '../../../src/engine/engine.js';
import { snapshot } from '../../../src/engine/snapshot.js';
import { takeOver } from '../../../src/engine/take-over/take-over.js';
import { viewOf } from '../../../src/engine/view.js';
import type { OscMessage } from '../../../src/protocols/osc/encode.js';
import { labelsOf } from '../../../src/show/model/labels.js';
import { type Place, Rig } from '../harness.js';
import { HOUSE, SOLO } from '../shows.js';

const OF_TWO = SOLO.replace('zones:', 'spares: [7]\nzones:').replace(
  'trackers: [1]',
  'trackers: [1, 2]',
);
const HERE = [2, 6] as const satisfies Place;

describe('one tracker of a pair that dies', () => {
  test('is told of once, and when it is back; the light does not lose anything', () => {
    const rig = new Rig(OF_TWO).run(6, { 1: HERE, 2: HERE });
    rig.run(30, { 1: HERE });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.eventsOf('tracker-contact')).toMatchObject([
      { tracker: '2', performer: 'ines', heard: false, others: ['1'] },
    ]);
    expect(rig.eventsOf('tracker-contact')[0]?.silentForS).toBeCloseTo(2, 1);
    // A single report is no return.
    rig.run(0.1, { 1: HERE, 2: HERE }).run(5, { 1: HERE });
    expect(rig.eventsOf('tracker-contact')).toHaveLength(1);
    rig.run(2, { 1: HERE, 2: HERE });
    expect(rig.eventsOf('tracker-contact').map(({ heard }) => heard)).toEqual([false, true]);
  });

  test('is told of though it was never heard', () => {
    const rig = new Rig(OF_TWO).run(6, { 2: HERE });
    expect(rig.eventsOf('tracker-contact')).toMatchObject([{ tracker: '1', heard: false }]);
    expect(rig.eventsOf('tracker-contact')[0]).not.toHaveProperty('silentForS');
  });

  test('hidden for a moment, or with all the others, it is not', () => {
    const rig = new Rig(OF_TWO).run(6, { 1: HERE, 2: HERE });
    rig.run(1.5, { 1: HERE }).run(3, { 1: HERE, 2: HERE }).run(10, {});
    expect(rig.eventsOf('tracker-contact')).toEqual([]);
    expect(rig.phase('ines')).toBe('safe');
  });

  test('who wears only one is lost, and that is enough to tell', () => {
    const rig = new Rig(SOLO).run(6, { 1: HERE }).run(10, {});
    expect(rig.eventsOf('tracker-contact')).toEqual([]);
  });

  test('who wears only one and is stopped will not come back: it is told, and so is the resume', () => {
    const rig = new Rig(HOUSE).run(6, { 1: HERE, 2: [8, 7] });
    rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
    rig.run(3, { 1: HERE, 2: [8, 7] }).run(4, { 2: [8, 7] });
    expect(rig.eventsOf('tracker-contact')).toMatchObject([
      { tracker: '1', performer: 'ines', heard: false, others: [] },
    ]);
    rig.order({ kind: 'resume', performer: undefined, cause: 'command', id: 7 });
    rig.run(1, { 2: [8, 7] });
    const [done] = rig.eventsOf('operator-done');
    expect(done?.keptAway).toEqual([{ performer: 'ines', cause: 'tracker-silent' }]);
    expect(done && answerInWords(done, labelsOf(rig.show))).toBe(
      'Everybody resumed. Not back yet: ines (tracker silent).',
    );
  });

  test('is forgotten when somebody else wears it, or nobody', () => {
    const rig = new Rig(OF_TWO).run(6, { 1: HERE, 2: HERE }).run(4, { 1: HERE });
    rig.order({ kind: 'unassign', tracker: '2', cause: 'command' });
    rig.run(4, { 1: HERE, 2: HERE });
    expect(rig.eventsOf('tracker-contact')).toHaveLength(1);
    rig.order({ kind: 'assign', tracker: '7', performer: 'ines', cause: 'command' });
    rig.run(1.9, { 1: HERE });
    expect(rig.eventsOf('tracker-contact')).toHaveLength(1);
    rig.run(0.3, { 1: HERE });
    expect(rig.eventsOf('tracker-contact')[1]).toMatchObject({ tracker: '7', heard: false });
  });
});

describe('two trackers of one performer', () => {
  const apart = (rig: Rig) =>
    rig
      .eventsOf('trackers-apart')
      .map(({ trackers, apartM }) => [trackers, Number(apartM.toFixed(1))]);

  test.each([2.5, 3.4])(
    'that are %d m apart are told of once, with how far; and when they agree',
    farM => {
      const there = [2 + farM, 6] as const satisfies Place;
      const rig = new Rig(OF_TWO).run(6, { 1: HERE, 2: HERE });
      expect(apart(rig)).toEqual([]);
      rig.run(3, { 1: HERE, 2: there });
      expect(apart(rig)).toEqual([[['1', '2'], farM]]);
      rig.run(30, { 1: HERE, 2: there });
      expect(apart(rig)).toHaveLength(1);
      rig.run(8, { 1: HERE, 2: HERE });
      expect(apart(rig)).toEqual([
        [['1', '2'], farM],
        [[], 0],
      ]);
    },
  );

  test('a spare that somebody else has on is told of after it is given', () => {
    const rig = new Rig(OF_TWO).run(6, { 1: HERE, 7: [5, 6] });
    rig.order({ kind: 'assign', tracker: '7', performer: 'ines', cause: 'command' });
    rig.run(4, { 1: HERE, 7: [5, 6] });
    expect(apart(rig)).toEqual([[['1', '7'], 3]]);
  });

  test('one that scatters within reach of the arms is not', () => {
    const rig = new Rig(OF_TWO).run(10, { 1: HERE, 2: [2.7, 6] });
    expect(apart(rig)).toEqual([]);
  });
});

describe('a battery', () => {
  const charged = (tracker: string, charge: number): OscMessage => ({
    address: `/tracker/${tracker}/position`,
    args: [2, 6, 1.6, charge].map(value => ({ type: 'f', value })),
  });

  test('that runs low is told of once, however it trembles, and again when it has been charged', () => {
    const rig = new Rig(
      OF_TWO.replace('/position" }', '/position", arguments: [x, y, z, battery] }'),
    );
    const drain = (from: number, to: number, tracker = '1') => {
      for (let i = 0; i <= 40; i++) {
        const trembling = 0.01 * Math.sin(1.7 * i);
        rig.send(charged(tracker, from + ((to - from) * i) / 40 + trembling));
        rig.tick();
      }
    };
    drain(0.9, 0.21);
    expect(rig.eventsOf('battery')).toEqual([]);
    drain(0.21, 0.1);
    drain(0.1, 0.28);
    expect(rig.eventsOf('battery')).toMatchObject([{ tracker: '1', performer: 'ines', low: true }]);
    expect(rig.eventsOf('battery')[0]?.charge).toBeCloseTo(0.2, 1);
    drain(0.9, 0.8);
    drain(0.3, 0.1, '7');
    expect(rig.eventsOf('battery').map(({ tracker, low }) => [tracker, low])).toEqual([
      ['1', true],
      ['1', false],
      ['7', true],
    ]);
    expect(rig.eventsOf('battery')[2]).not.toHaveProperty('performer');
  });

  test('in per cent is counted and told once; a 1 of theirs is next to nothing, and not full', () => {
    const rig = new Rig(
      OF_TWO.replace('/position" }', '/position", arguments: [x, y, z, battery] }'),
    );
    const say = (tracker: string, battery: number) => {
      const args = [2, 6, 1.5, battery].map(value => ({ type: 'f' as const, value }));
      rig.send({ address: `/tracker/${tracker}/position`, args });
      rig.tick();
    };
    say('1', 95);
    say('1', 4);
    say('1', 1);
    say('2', 15);
    expect(rig.eventsOf('battery-unit')).toMatchObject([
      { tracker: '1', performer: 'ines', charge: 95 },
    ]);
    expect(rig.eventsOf('battery')).toEqual([]);
    expect(rig.view.counters.drops['battery-range']).toBe(3);
    expect(rig.view.counters.positions).toBe(4);
    // Read again, the show knows it still.
    const next = createEngine(rig.show);
    takeOver(next, rig.engine);
    Object.assign(rig, { engine: next, view: viewOf(next) });
    say('1', 1);
    say('1', 94);
    expect(rig.eventsOf('battery-unit')).toHaveLength(1);
    expect(
      snapshot(rig.view).trackers.map(({ id, battery }) => [id, battery ?? null]),
    ).toContainEqual(['1', null]);
  });
});

describe('somebody who is heard, and whom the light has never followed', () => {
  const told = (rig: Rig) =>
    rig.eventsOf('heard-but').map(({ performer, but }) => [performer, but]);

  test('is told of, and why: no time stamps come', () => {
    const measured = SOLO.replace('port: 9010', 'port: 9010\n    timeTags: measured');
    const rig = new Rig(measured).run(8, { 1: HERE });
    expect(told(rig)).toEqual([['ines', 'no-time-stamp']]);
    // Not heard any more is what it is called then.
    rig.run(3, {});
    expect(told(rig)).toEqual([
      ['ines', 'no-time-stamp'],
      ['ines', undefined],
    ]);
  });

  test('off the stage, and nothing any more once it is followed', () => {
    const rig = new Rig(HOUSE).run(6, { 1: [40, 6], 2: [8, 7] });
    expect(told(rig)).toEqual([['ines', 'out-of-bounds']]);
    rig.run(6, { 1: HERE, 2: [8, 7] });
    expect(rig.phase('ines')).toBe('live');
    expect(told(rig)).toEqual([
      ['ines', 'out-of-bounds'],
      ['ines', undefined],
    ]);
  });

  test('where every position is refused', () => {
    const rig = new Rig(SOLO).run(6, { 1: [4000, 6] });
    expect(rig.view.counters.drops['position-range']).toBeGreaterThan(0);
    expect(told(rig)).toEqual([['ines', 'refused']]);
  });

  test('and nobody who is live, lost, or never heard', () => {
    const rig = new Rig(HOUSE).run(6, { 1: HERE }).run(4, {}).run(8, { 1: HERE });
    expect(rig.phase('ines')).toBe('live');
    expect(told(rig)).toEqual([]);
  });
});
