import { describe, expect, test } from 'vitest';
import { answerInWords } from '../../../src/daemon/asking/answers.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import { snapshot } from '../../../src/engine/snapshot.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { happeningOf } from '../../../src/reporting/measures/happenings.js';
import { labelsOf, NAMES_AS_LABELS } from '../../../src/show/model/labels.js';
import { Rig } from '../harness.js';
import { SOLO } from '../shows.js';

const WITH_SPARES = SOLO.replace('zones:', 'spares: [7, spare-b]\nzones:');
const OF_TWO = WITH_SPARES.replace('trackers: [1]', 'trackers: [1, 2]');
const HERE = [2, 6] as const;
/** 5 m away: nobody walks there in a report. */
const THERE = [7, 6] as const;

const assign = (tracker: string, performer = 'ines') =>
  ({ kind: 'assign', tracker, performer, cause: 'command' }) as const;
const unassign = (tracker: string) => ({ kind: 'unassign', tracker, cause: 'command' }) as const;

describe('a spare tracker', () => {
  test('is known, and moves nobody before it is given to somebody', () => {
    const rig = new Rig(WITH_SPARES).run(4, { 1: HERE });
    const before = [...rig.view.levels];
    rig.run(1, { 1: HERE, 7: THERE, 9: THERE });
    expect([...rig.view.levels]).toEqual(before);
    expect(rig.view.counters.spares).toBe(40);
    expect(rig.view.counters.drops['unknown-tracker']).toBe(40);
    expect(snapshot(rig.view).trackers).toMatchObject([
      { id: '1', performer: 'ines' },
      { id: '7', performer: undefined },
      { id: 'spare-b', performer: undefined, silentForS: undefined },
    ]);
    expect(snapshot(rig.view).trackers[1]?.silentForS).toBeLessThanOrEqual(0.025);
  });

  test('takes over for one that has died, in the dark and not as a sweep', () => {
    const rig = new Rig(WITH_SPARES).run(5, { 1: HERE });
    rig.run(4, { 7: THERE });
    expect(rig.phase('ines')).toBe('safe');
    rig.order(assign('7'));
    let latest = rig.view.performers[0]?.estimate.x ?? 0;
    rig.run(6, { 7: THERE }, ({ view }) => {
      const x = view.performers[0]?.estimate.x ?? 0;
      // At the old place or at the new one: never between.
      expect(Math.min(Math.abs(x - HERE[0]), Math.abs(x - THERE[0]))).toBeLessThan(0.01);
      // Where the head is lit it does not move.
      if (Math.abs(x - latest) > 0.01) expect(rig.level('head')).toBe(0);
      latest = x;
    });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.beamMisses('head', [...THERE, 1.6])).toBeLessThan(0.05);
    expect(rig.eventsOf('tracker')).toMatchObject([
      { tracker: '7', performer: 'ines', change: 'assigned', cause: 'command' },
    ]);
  });

  test('given within the half second before the loss is known, is a jump too', () => {
    const rig = new Rig(WITH_SPARES).run(5, { 1: HERE });
    // The two are 0.4 m apart, which the gate alone would take for a step to the side.
    rig.run(0.2, {});
    rig.order(unassign('1'));
    rig.order(assign('7'));
    rig.run(0.1, { 7: [2.4, 6] });
    const lost = rig.eventsOf('performer').filter(({ to }) => to === 'losing');
    expect(lost).toMatchObject([{ cause: 'jumped' }]);
  });

  test('beside a good one is no event for the light', () => {
    const rig = new Rig(WITH_SPARES).run(5, { 1: HERE, 7: HERE });
    const before = [...rig.view.levels];
    rig.order(assign('7'));
    rig.run(2, { 1: HERE, 7: HERE });
    expect(rig.phase('ines')).toBe('live');
    expect([...rig.view.levels]).toEqual(before);
    rig.order(unassign('1'));
    rig.run(2, { 1: THERE, 7: HERE });
    expect([...rig.view.levels]).toEqual(before);
    expect(rig.view.counters.spares).toBeGreaterThan(79);
  });

  test('that lies elsewhere does not draw the light away from a good one', () => {
    const rig = new Rig(WITH_SPARES).run(5, { 1: HERE });
    rig.order(assign('7'));
    rig.run(3, { 1: HERE, 7: THERE });
    expect(snapshot(rig.view).trackers[1]?.outlierShare).toBeGreaterThan(0.9);
    // One of the two is not where Ines is, and nothing tells which: that is no place to light.
    expect(rig.beamMisses('head', [...HERE, 1.6])).toBeLessThan(0.05);
    expect(snapshot(rig.view).performers[0]?.confidence.reason).toBe('conflict');
    expect(rig.phase('ines')).toBe('losing');
  });
});

describe('who gives a tracker', () => {
  const given = (rig: Rig) => {
    rig.order({ ...assign('7'), id: 1 });
    rig.tick();
    const done = rig.eventsOf('operator-done').at(-1);
    if (done === undefined) throw new Error('no answer');
    return done;
  };
  const words = (rig: Rig) => answerInWords(given(rig), labelsOf(rig.show));

  test('is told how far it was from where the performer was last tracked', () => {
    const rig = new Rig(WITH_SPARES).run(5, { 1: HERE, 7: THERE });
    rig.run(3, { 7: THERE });
    expect(words(rig)).toBe('Tracker 7 given to ines, 5.0 m from where ines was last tracked.');
    const [event] = rig.eventsOf('tracker');
    expect(event?.distanceM).toBeCloseTo(5, 1);
    expect(happeningOf(event as EngineEvent, NAMES_AS_LABELS)).toBe(
      'tracker 7 was given to ines, 5.0 m from where ines was last tracked',
    );
  });

  test('is told that nothing comes from it, or nothing where the performer was never tracked', () => {
    const silent = new Rig(WITH_SPARES).run(5, { 1: HERE });
    expect(words(silent)).toBe(
      'Tracker 7 given to ines, but nothing has come from it in the last 5 s.',
    );
    expect(words(new Rig(WITH_SPARES).run(5, { 7: HERE }))).toBe('Tracker 7 given to ines.');
  });
});

describe('taking trackers off', () => {
  test('one of two is no event for the light', () => {
    const rig = new Rig(OF_TWO).run(5, { 1: HERE, 2: HERE });
    const before = [...rig.view.levels];
    rig.order(unassign('1'));
    rig.run(3, { 2: HERE });
    expect(rig.phase('ines')).toBe('live');
    expect([...rig.view.levels]).toEqual(before);
  });

  test('the only one loses the performer as its silence would', () => {
    const rig = new Rig(WITH_SPARES).run(5, { 1: HERE });
    rig.order(unassign('1'));
    rig.run(1, { 1: HERE });
    expect(rig.phase('ines')).toBe('losing');
    expect(rig.eventsOf('performer').at(-1)).toMatchObject({
      cause: 'tracker-silent',
      wearsNone: true,
    });
    // And back on again it is a beginning.
    rig.order(assign('1'));
    rig.run(6, { 1: HERE });
    expect(rig.phase('ines')).toBe('live');
  });

  test('moves it from one performer to another', () => {
    const two = WITH_SPARES.replace(
      'trackers: [1] }',
      'trackers: [1] }\n  tobias: { trackers: [2] }',
    );
    const rig = new Rig(two).run(5, { 1: HERE, 2: THERE });
    rig.order(assign('2'));
    rig.run(1, { 1: HERE, 2: HERE });
    expect(rig.phase('tobias')).toBe('losing');
    expect(rig.phase('ines')).toBe('live');
    expect(rig.eventsOf('tracker')).toMatchObject([
      { tracker: '2', performer: 'ines', change: 'assigned', takenFrom: 'tobias' },
    ]);
    expect(rig.eventsOf('tracker')).toHaveLength(1);
  });
});

test('an order with an id is answered: from whom a tracker was taken, and what is so already', () => {
  const two = WITH_SPARES.replace(
    'trackers: [1] }',
    'trackers: [1] }\n  tobias: { trackers: [2] }',
  );
  const rig = new Rig(two).run(1, { 1: HERE, 2: THERE });
  const actions = [assign('2'), assign('2'), assign('7'), unassign('2'), unassign('2')];
  for (const [index, action] of actions.entries()) rig.order({ ...action, id: index + 1 });
  rig.tick();
  expect(
    rig
      .eventsOf('operator-done')
      .map(({ action, changed, takenFrom }) => [action.id, changed, takenFrom]),
  ).toEqual([
    [1, true, 'tobias'],
    [2, false, undefined],
    [3, true, undefined],
    [4, true, 'ines'],
    [5, false, undefined],
  ]);
  expect(rig.eventsOf('operator-refused')).toEqual([]);
});

describe('what is refused says why, and changes nothing', () => {
  test.each([
    [assign('99'), 'the show has no tracker "99"'],
    [unassign('99'), 'the show has no tracker "99"'],
    [assign('7', 'nobody'), 'the show has no performer "nobody"'],
  ])('%o', (action, reason) => {
    const rig = new Rig(WITH_SPARES).run(4, { 1: HERE });
    const before = [...rig.view.levels];
    rig.order(action);
    rig.run(0.5, { 1: HERE });
    expect(rig.eventsOf('operator-refused')).toMatchObject([{ action }]);
    expect(rig.eventsOf('operator-refused')[0]?.reason).toContain(reason);
    expect(rig.eventsOf('tracker')).toEqual([]);
    expect([...rig.view.levels]).toEqual(before);
  });
});

test('an order that reaches the engine too late is refused in words, and changes nothing', () => {
  const rig = new Rig(WITH_SPARES).run(4, { 1: HERE });
  rig.order({ ...assign('7'), untilS: rig.nowS - 2 });
  rig.run(0.1, { 1: HERE });
  expect(rig.eventsOf('tracker')).toEqual([]);
  expect(rig.eventsOf('operator-refused')).toMatchObject([
    {
      reason: expect.stringMatching(/^it reached the engine 2\.\d s too late, .*nothing was done/),
    },
  ]);
  rig.order({ ...assign('7'), untilS: rig.nowS + 2 });
  rig.run(0.1, { 1: HERE });
  expect(rig.eventsOf('tracker')).toHaveLength(1);
});

test('orders by OSC that waited while the engine stood still are dropped, but for a stop and a release; later ones count', () => {
  const rig = new Rig(`${WITH_SPARES}operator: { port: 9011 }\n`).run(4, { 1: HERE });
  const order = (address: string, ...values: number[]) => {
    const args = values.map(value => ({ type: 'i' as const, value }));
    rig.receive(encodePacket({ address, args }), rig.nowS, 1);
  };
  const drops = () => rig.view.counters.drops['order-too-late'];
  // All of that time is in the socket, and is read with an arrival of now.
  rig.tick(3.2);
  for (const address of ['/lampwright/resume', '/lampwright/stop']) order(address);
  rig.tick();
  expect([drops(), rig.view.allStopped]).toEqual([1, true]);
  rig.run(0.6, { 1: HERE });
  order('/lampwright/resume');
  rig.tick();
  expect([drops(), rig.view.allStopped]).toEqual([1, false]);
  // A stall that is shorter is none of that.
  rig.tick(2.9);
  order('/lampwright/stop');
  rig.tick();
  order('/lampwright/resume');
  rig.tick();
  expect([drops(), rig.view.allStopped]).toEqual([1, false]);
  // To let go of an enable is never too late, and to hold one is.
  rig.tick(3.2);
  order('/lampwright/enable/strobe', 0);
  order('/lampwright/desk');
  rig.tick();
  expect(drops()).toBe(1);
  order('/lampwright/enable/strobe', 1);
  rig.tick();
  expect(drops()).toBe(2);
});

test('a stop of everybody is news though each is stopped already, and is not the second time', () => {
  const rig = new Rig(WITH_SPARES).run(1, { 1: HERE });
  const changed = () => rig.eventsOf('operator-done').map(one => one.changed);
  for (const performer of [...rig.show.performers.map(({ name }) => name), undefined, undefined]) {
    rig.order({ kind: 'stop', performer, cause: 'command', id: 1 });
    rig.tick();
  }
  expect(changed()).toEqual([...rig.show.performers.map(() => true), true, false]);
  expect(rig.view.allStopped).toBe(true);
});
