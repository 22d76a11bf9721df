import { describe, expect, test } from 'vitest';
import { answerInWords } from '../../../src/daemon/asking/answers.js';
import { snapshot } from '../../../src/engine/snapshot.js';
import { encodePacket, type OscMessage } from '../../../src/protocols/osc/encode.js';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import { createFallback, stepFallback } from '../../../src/safety/fallback.js';
import { labelsOf } from '../../../src/show/model/labels.js';
import { fallbackPlan } from '../../../src/show/model/safe-look.js';
import { Rig, TICK_HZ } from '../harness.js';
import { HOUSE, SOLO } from '../shows.js';

const STOVE = [2, 6] as const;
const WINDOW = [8, 7] as const;
const BOTH = { 1: STOVE, 2: WINDOW };
const OPERATOR = 'operator: { port: 9011 }\n';
/** The operator's input comes after that of the positions. */
const ORDERS = 1;

function order(rig: Rig, address: string, ...args: OscArgument[]): void {
  const message: OscMessage = { address: `/lampwright/${address}`, args };
  rig.receive(encodePacket(message), rig.nowS, ORDERS);
}

const named = (value: string): OscArgument => ({ type: 's', value });
const number = (value: number): OscArgument => ({ type: 'i', value });

describe('an operator stop', () => {
  test('of one performer takes their light to its safe values, and nobody else loses anything', () => {
    const rig = new Rig(HOUSE + OPERATOR).run(6, BOTH);
    expect(rig.level('head')).toBeCloseTo(90, 1);
    const wash = rig.level('window-wash');
    order(rig, 'stop', named('ines'));
    rig.run(4, BOTH);
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.phase('tobias')).toBe('live');
    expect(rig.level('head')).toBe(0);
    expect(rig.level('window-wash')).toBeCloseTo(wash, 1);
    expect(rig.eventsOf('stopped')).toMatchObject([
      { performers: ['ines'], everybody: false, cause: 'command' },
    ]);
    const lost = rig.eventsOf('performer').find(({ to }) => to === 'losing');
    expect(lost).toMatchObject({ performer: 'ines', cause: 'operator-stop' });
    expect(snapshot(rig.view).orders).toMatchObject({ allStopped: false, stopped: ['ines'] });
  });

  test('of everybody holds whatever the tracking does, and ends only when it is resumed', () => {
    const rig = new Rig(HOUSE + OPERATOR).run(6, BOTH);
    order(rig, 'stop');
    rig.run(60, BOTH);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['safe', 'safe']);
    expect(rig.eventsOf('stopped')).toMatchObject([
      { performers: ['ines', 'tobias'], everybody: true },
    ]);
    order(rig, 'resume', named('tobias'));
    rig.run(6, BOTH);
    // Who is resumed, and who is not.
    expect(rig.eventsOf('resumed')).toMatchObject([
      { performers: ['tobias'], everybody: false, stillStopped: ['ines'], stopOfEverybody: true },
    ]);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['safe', 'live']);
    order(rig, 'resume');
    rig.run(6, BOTH);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['live', 'live']);
  });

  test('of everybody but one, as a new engine is told of it, is not one of everybody', () => {
    const rig = new Rig(HOUSE + OPERATOR);
    rig.order({ kind: 'stop', performer: undefined, cause: 'restored' });
    rig.order({ kind: 'resume', performer: 'ines', cause: 'restored' });
    rig.run(6, BOTH);
    expect(rig.eventsOf('stopped')).toMatchObject([
      { performers: ['tobias'], everybody: false, stillStopped: ['tobias'], stopOfEverybody: true },
    ]);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['live', 'waiting']);
  });

  test('is at its safe values within its fade and the move, a second each', () => {
    const rig = new Rig(SOLO + OPERATOR).run(6, { 1: STOVE });
    order(rig, 'stop');
    rig.tick();
    // Fade 1 s, move 1 s; each begins with a tick.
    rig.run(2 + 3 / TICK_HZ, { 1: STOVE });
    expect(rig.view.levels).toEqual(new Rig(SOLO + OPERATOR).view.levels);
  });

  test('of one after the other: who is resumed alone is not everybody', () => {
    const rig = new Rig(HOUSE + OPERATOR).run(1, BOTH);
    order(rig, 'stop', named('ines'));
    order(rig, 'stop', named('tobias'));
    rig.tick();
    order(rig, 'resume', named('ines'));
    rig.tick();
    order(rig, 'resume', named('tobias'));
    rig.tick();
    expect(
      rig.eventsOf('resumed').map(({ performers, everybody, stillStopped }) => ({
        performers,
        everybody,
        stillStopped,
      })),
    ).toEqual([
      { performers: ['ines'], everybody: false, stillStopped: ['tobias'] },
      { performers: ['tobias'], everybody: true, stillStopped: [] },
    ]);
  });

  test('and a resume of one tick are told one after the other, as all that was ordered', () => {
    const told = (rig: Rig, from: number) =>
      rig.events
        .slice(from)
        .flatMap(one =>
          one.kind === 'stopped' || one.kind === 'resumed'
            ? [[one.kind, one.performers.join(' '), one.everybody, one.stillStopped.join(' ')]]
            : [],
        );
    const rig = new Rig(HOUSE + OPERATOR).run(6, BOTH);
    const lit = rig.level('head');
    order(rig, 'stop', named('ines'));
    order(rig, 'resume', named('ines'));
    rig.tick();
    expect(told(rig, 0)).toEqual([
      ['stopped', 'ines', false, 'ines'],
      ['resumed', 'ines', true, ''],
    ]);
    rig.run(1, BOTH);
    expect(rig.level('head')).toBeCloseTo(lit, 1);
    let from = rig.events.length;
    for (const kind of ['stop', 'resume', 'stop', 'resume'] as const) {
      rig.order({ kind, performer: undefined, cause: 'command', by: 'anna' });
    }
    rig.tick();
    expect(told(rig, from)).toEqual([
      ['stopped', 'ines tobias', true, 'ines tobias'],
      ['resumed', 'ines tobias', true, ''],
      ['stopped', 'ines tobias', true, 'ines tobias'],
      ['resumed', 'ines tobias', true, ''],
    ]);
    // The same one of several is one event; another's is another.
    from = rig.events.length;
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command', by: 'anna' });
    rig.order({ kind: 'stop', performer: 'tobias', cause: 'command', by: 'anna' });
    rig.order({ kind: 'resume', performer: 'ines', cause: 'command', by: 'bert' });
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command', by: 'bert' });
    order(rig, 'resume');
    rig.tick();
    expect(told(rig, from)).toEqual([
      ['stopped', 'ines tobias', false, 'ines tobias'],
      ['resumed', 'ines', false, 'tobias'],
      ['stopped', 'ines', false, 'ines tobias'],
      ['resumed', 'ines tobias', true, ''],
    ]);
    expect(rig.eventsOf('stopped').at(-1)?.by).toBe('bert');
    expect(rig.eventsOf('stopped').at(-2)?.by).toBe('anna');
  });

  test('by one person does not make what another sends off theirs', () => {
    const rig = new Rig(HOUSE + OPERATOR).run(1, BOTH);
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command', by: 'anna' });
    rig.order({ kind: 'off', performer: 'tobias', cause: 'command', by: 'bert' });
    rig.tick();
    expect(rig.eventsOf('stopped')[0]?.by).toBe('anna');
    expect(rig.eventsOf('off-stage')[0]?.by).toBe('bert');
    rig.order({ kind: 'on', performer: 'tobias', cause: 'command', by: 'bert' });
    rig.order({ kind: 'resume', performer: 'ines', cause: 'command', by: 'anna' });
    rig.tick();
    expect(rig.eventsOf('resumed')[0]?.by).toBe('anna');
    expect(rig.eventsOf('off-stage').at(-1)?.by).toBe('bert');
  });

  test('says from which address it came', () => {
    const rig = new Rig(HOUSE + OPERATOR).run(1, BOTH);
    const bytes = encodePacket({ address: '/lampwright/stop', args: [] });
    rig.receive(bytes, rig.nowS, ORDERS, '10.0.0.5');
    rig.tick();
    expect(rig.eventsOf('stopped')).toMatchObject([{ everybody: true, by: '10.0.0.5' }]);
    rig.order({ kind: 'resume', performer: undefined, cause: 'command', by: 'control socket' });
    rig.tick();
    expect(rig.eventsOf('resumed')).toMatchObject([{ everybody: true, by: 'control socket' }]);
  });

  test('that is so already, as an action with an id, is answered with what is so', () => {
    const rig = new Rig(HOUSE).run(1, BOTH);
    const ask = (kind: 'stop' | 'resume', performer: string | undefined, id: number) => {
      rig.order({ kind, performer, cause: 'command', id });
      rig.tick();
      return rig.eventsOf('operator-done').at(-1);
    };
    expect(ask('stop', 'ines', 1)).toMatchObject({ changed: true, stillStopped: ['ines'] });
    expect(ask('stop', 'ines', 2)).toMatchObject({ changed: false, stillStopped: ['ines'] });
    expect(ask('stop', undefined, 3)).toMatchObject({ changed: true, stopOfEverybody: true });
    expect(ask('stop', undefined, 4)).toMatchObject({ changed: false, action: { id: 4 } });
    expect(ask('resume', 'tobias', 5)).toMatchObject({
      changed: true,
      stillStopped: ['ines'],
      stopOfEverybody: true,
    });
    expect(ask('resume', undefined, 6)).toMatchObject({ changed: true, stillStopped: [] });
    expect(ask('resume', 'ines', 7)).toMatchObject({ changed: false, stillStopped: [] });
    expect(rig.eventsOf('stopped')).toHaveLength(2);
  });

  test('comes as an action too, also of a file that remembers', () => {
    const rig = new Rig(SOLO).run(6, { 1: STOVE });
    rig.order({ kind: 'stop', performer: 'ines', cause: 'restored' });
    rig.order({ kind: 'stop', performer: 'nobody', cause: 'command' });
    rig.run(3, { 1: STOVE });
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      { reason: 'the show has no performer "nobody"' },
    ]);
    rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
    rig.run(5, { 1: STOVE });
    expect(rig.phase('ines')).toBe('live');
  });

  test('takes the label, or the name in other letters; for nobody it is refused at once, and not each time', () => {
    const show = HOUSE.replace('trackers: [1]', 'label: The Old One, trackers: [1]');
    const rig = new Rig(show + OPERATOR).run(6, BOTH);
    order(rig, 'stop', named('the old one'));
    rig.run(3, BOTH);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['safe', 'live']);
    for (let i = 0; i < 40; i++) {
      rig.receive(
        encodePacket({ address: '/lampwright/stop', args: [named('tobi')] }),
        rig.nowS,
        ORDERS,
        '10.0.0.5',
      );
      rig.run(0.1, BOTH);
    }
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      {
        action: { kind: 'stop', performer: 'tobi', by: '10.0.0.5' },
        reason: 'the show has no performer "tobi". Did you mean "tobias"?',
      },
    ]);
    expect(rig.view.counters.drops['unknown-performer']).toBe(40);
    rig.run(10, BOTH);
    order(rig, 'stop', named('tobi'));
    rig.tick();
    expect(rig.eventsOf('operator-refused')).toHaveLength(2);
  });

  test('is not taken at the input of the positions, nor a position at that of the operator', () => {
    const rig = new Rig(SOLO + OPERATOR).run(6, { 1: STOVE });
    rig.send({ address: '/lampwright/stop', args: [] });
    order(rig, 'fly');
    order(rig, 'stop', named('nobody'));
    rig.receive(
      encodePacket({
        address: '/tracker/1/position',
        args: [1, 2, 3].map(value => ({ type: 'f', value })),
      }),
      rig.nowS,
      ORDERS,
    );
    rig.run(3, { 1: STOVE });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.view.counters.drops).toMatchObject({
      'no-route': 1,
      'no-order': 2,
      'unknown-performer': 1,
    });
  });

  test('to enable what the show has nothing of are counted, and reported once; to release it is no fault', () => {
    const rig = new Rig(SOLO + OPERATOR).run(6, { 1: STOVE });
    for (let i = 0; i < 3; i++) order(rig, 'enable/laser');
    order(rig, 'enable/laser', number(0));
    rig.tick();
    expect(rig.view.counters.drops['unknown-hazard']).toBe(3);
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      {
        action: { kind: 'hold', hazard: 'laser', held: true },
        reason: 'the show has nothing of the class laser',
      },
    ]);
  });

  test('a flood of orders is no flood of events', () => {
    const rig = new Rig(SOLO + OPERATOR).run(6, { 1: STOVE });
    const told = () => rig.events.filter(({ kind }) => kind === 'stopped' || kind === 'resumed');
    for (let i = 0; i < 10_001; i++) order(rig, i % 2 === 0 ? 'stop' : 'resume');
    rig.tick();
    // 8 of them, and what comes of the rest.
    expect(told()).toHaveLength(9);
    expect(told().at(-1)).toMatchObject({ kind: 'stopped', stillStopped: ['ines'] });
    // The nine that are told are of ten orders: the last two came out as one. Of the rest every second one was no news.
    const merged = () => rig.view.counters.ordersMerged;
    expect(merged()).toBe(10_001 - 9 - (10_001 - 9) / 2);
    const before = merged();
    rig.tick();
    order(rig, 'resume');
    rig.tick();
    expect(merged()).toBe(before);
    // As long as it goes on, one a tick and what comes of the rest.
    for (let tick = 0; tick < 50; tick++) {
      for (let i = 0; i < 101; i++) order(rig, (i + tick) % 2 === 0 ? 'resume' : 'stop');
      rig.tick();
    }
    expect(told().length).toBeLessThanOrEqual(9 + 2 * 50);
    rig.tick();
    expect(told().at(-1)).toMatchObject({ stillStopped: snapshot(rig.view).orders.stopped });
  });
});

describe('the desk', () => {
  const desk = (role: string) =>
    `${SOLO.replace('  feedSilent', '  deskLost: { after: 1, fade: 2 }\n  feedSilent')}operator: { port: 9011, desk: ${role} }\n`;

  test('that is required and silent: light at its safe values until it is heard, and again when it goes', () => {
    const rig = new Rig(desk('required')).run(6, { 1: STOVE });
    expect(rig.phase('ines')).not.toBe('live');
    const beat = (one: Rig) => order(one, 'desk');
    rig.run(6, { 1: STOVE }, beat);
    expect(rig.phase('ines')).toBe('live');
    rig.run(0.9, { 1: STOVE });
    expect(rig.phase('ines')).toBe('live');
    rig.run(5, { 1: STOVE });
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.eventsOf('desk')).toMatchObject([
      { lost: true, required: true },
      { lost: false },
      { lost: true },
    ]);
    expect(rig.eventsOf('performer').filter(({ to }) => to === 'losing')).toMatchObject([
      { cause: 'desk-lost' },
    ]);
    rig.run(6, { 1: STOVE }, beat);
    expect(rig.phase('ines')).toBe('live');
  });

  test.each(['cue', 'pin'])('is heard by an order to %s', what => {
    const rig = new Rig(
      `${desk('reported').replace('follow: ines,', 'follow: { nearest: [ines], to: [5, 4, 0] },')}cues: { one: {}, two: {} }\n`,
    );
    const names = what === 'cue' ? ['one', 'two'] : ['head', 'ines'];
    const say = (i: number) => {
      const args = what === 'cue' ? [names[i % 2]] : names;
      rig.receive(
        encodePacket({
          address: `/lampwright/${what}`,
          args: args.map(value => ({ type: 's', value: value ?? '' })),
        }),
        rig.nowS,
        1,
      );
    };
    for (let i = 0; i < 6; i++) {
      say(i);
      rig.run(0.8, { 1: STOVE });
    }
    expect(rig.eventsOf('desk')).toEqual([]);
    rig.run(1, { 1: STOVE });
    expect(rig.eventsOf('desk')).toMatchObject([{ lost: true }]);
  });

  test('that is only reported: the light stays', () => {
    const rig = new Rig(desk('reported')).run(10, { 1: STOVE });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.eventsOf('desk')).toMatchObject([{ lost: true, required: false }]);
  });

  test('that is ignored: nothing is said', () => {
    const rig = new Rig(desk('ignored')).run(10, { 1: STOVE });
    expect(rig.eventsOf('desk')).toEqual([]);
  });
});

const HAZARDS = `${SOLO.replace(
  'fixtures:',
  `profiles:
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }, { attribute: Fan1 }] }
  beam: { hazard: laser, channels: [{ attribute: Dimmer }, { attribute: Effects1 }] }
  flicker: { channels: [{ attribute: Dimmer }, { attribute: Shutter1Strobe }] }
fixtures:
  hazer: { profile: hazer, universe: 1, address: 100, base: { Haze1: 30, Fan1: 50 }, safe: { Haze1: 0, Fan1: 20 } }
  beam: { profile: beam, universe: 1, address: 110 }
  flicker: { profile: flicker, universe: 1, address: 120, safe: { Dimmer: 10 } }`,
).replace(
  'mappings:',
  `mappings:
  - { zone: stove, fixtures: [beam], set: { Dimmer: 100, Effects1: 40 }, fade: { in: 0, out: 0 } }
  - { zone: stove, fixtures: [flicker], set: { Dimmer: 100, Shutter1Strobe: 60 }, fade: { in: 0, out: 0 } }`,
)}operator: { port: 9011, enableTimeout: 0.5 }
`;

describe('a hazardous output', () => {
  const held = (rig: Rig) =>
    rig.order({ kind: 'hold', hazard: 'atmospheric', held: true, cause: 'command' });
  const hold =
    (...classes: string[]) =>
    (rig: Rig) => {
      for (const one of classes) order(rig, `enable/${one}`, number(1));
    };
  const gates = (rig: Rig) =>
    Object.fromEntries(snapshot(rig.view).orders.hazards.map(one => [one.fixture, one.gate]));

  test('stays at its safe values until it is enabled, each class by itself', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE });
    const values = () =>
      [
        rig.level('hazer', 'Haze1'),
        rig.level('hazer', 'Fan1'),
        rig.level('beam'),
        rig.level('flicker', 'Shutter1Strobe'),
      ].map(Math.round);
    expect(values()).toEqual([0, 20, 0, 0]);
    // The lamp of the fixture whose strobe is held back is ordinary.
    expect(rig.level('flicker')).toBeCloseTo(100, 1);
    rig.run(2, { 1: STOVE }, hold('atmospheric'));
    expect(values()).toEqual([30, 50, 0, 0]);
    rig.run(2, { 1: STOVE }, hold('atmospheric', 'laser', 'strobe'));
    expect(values()).toEqual([30, 50, 100, 60]);
    expect(gates(rig)).toEqual({ hazer: 'on', beam: 'on', flicker: 'on' });
  });

  test('of a hazer whose profile says no class, all but what says ordinary waits for the enable', () => {
    const text = HAZARDS.replace(
      'hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }, { attribute: Fan1 }] }',
      'hazer: { channels: [{ attribute: Haze1 }, { attribute: Fan1 }, { attribute: Function }, { attribute: Control1, hazard: ordinary }] }',
    ).replace('Fan1: 50 }', 'Fan1: 50, Function: 60, Control1: 70 }');
    const rig = new Rig(text.replace('Fan1: 20 }', 'Fan1: 20, Function: 0, Control1: 0 }'));
    const values = () =>
      (['Haze1', 'Fan1', 'Function', 'Control1'] as const).map(one =>
        Math.round(rig.level('hazer', one)),
      );
    rig.run(6, { 1: STOVE });
    expect(values()).toEqual([0, 20, 0, 70]);
    rig.run(2, { 1: STOVE }, hold('atmospheric'));
    expect(values()).toEqual([30, 50, 60, 70]);
    rig.run(2, { 1: STOVE });
    expect(values()).toEqual([0, 20, 0, 70]);
  });

  test('falls off at once, without a fade, when the enable is not repeated or let go', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE }).run(2, { 1: STOVE }, hold('laser'));
    rig.run(0.45, { 1: STOVE });
    expect(rig.level('beam')).toBeCloseTo(100, 1);
    rig.run(0.1, { 1: STOVE });
    expect(rig.level('beam')).toBe(0);
    rig.run(1, { 1: STOVE }, hold('laser'));
    expect(rig.level('beam')).toBeCloseTo(100, 1);
    order(rig, 'enable/laser', number(0));
    rig.tick();
    expect(rig.level('beam')).toBe(0);
    const ofBeam = rig.eventsOf('enable').filter(({ outputs }) => outputs[0]?.fixture === 'beam');
    expect(ofBeam.map(({ gate }) => gate)).toEqual(['on', 'off', 'on', 'off']);
  });

  test('a hold under which it stays off is answered so, with the reason of the log', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE });
    const hand = (held: boolean, name = 'one') =>
      rig.order({ kind: 'hold', hazard: 'laser', held, hand: name, cause: 'command', id: 1 });
    const stop = (kind: 'stop' | 'resume') =>
      rig.order({ kind, performer: undefined, cause: 'command' });
    /** Held for a second: what came of each time, without repetitions. */
    const hold = (name = 'one') => {
      rig.tick();
      const before = rig.eventsOf('operator-done').length;
      rig.run(1, { 1: STOVE }, () => hand(true, name));
      const answers = rig.eventsOf('operator-done').slice(before);
      return [...new Set(answers.map(done => answerInWords(done, labelsOf(rig.show))))];
    };
    const last = () => rig.eventsOf('enable').at(-1);
    expect(hold()).toEqual(['The enable of laser is held.']);
    expect(rig.level('beam')).toBeCloseTo(100, 1);
    // Another page lets go, and this one goes on.
    rig.run(0.1, { 1: STOVE }, () => hand(true, 'two'));
    hand(false, 'two');
    expect(hold()).toEqual([
      'Refused: somebody else who held the enable let go. Release, and press again.',
    ]);
    expect([rig.level('beam'), last()?.reason]).toEqual([0, 'released']);
    hand(false);
    rig.tick();
    expect(hold()).toEqual(['The enable of laser is held.']);
    hand(false);
    stop('stop');
    rig.run(0.1, { 1: STOVE });
    const stopped =
      'Refused: everybody is stopped. Release, and press again once everybody has been resumed.';
    expect(hold()).toEqual([stopped]);
    expect([rig.level('beam'), last()?.reason]).toEqual([0, 'everybody-stopped']);
    // The hand stays on it: it is latched off for what it was then.
    stop('resume');
    expect(hold()).toEqual([stopped]);
    hand(false);
    rig.run(4, { 1: STOVE });
    expect(hold()).toEqual(['The enable of laser is held.']);
    hand(false);
    rig.order({ kind: 'safe-look', held: true, cause: 'command' });
    rig.run(0.1, { 1: STOVE });
    expect(hold()).toEqual([
      'Refused: all light is at the safe look. Release, and press again once the engine has the light.',
    ]);
    expect(rig.level('beam')).toBe(0);
    expect(rig.eventsOf('operator-done').at(-1)).toMatchObject({
      areAllOff: true,
      keptOff: [{ fixture: 'beam', hazard: 'laser', reason: 'safe-look' }],
    });
  });

  test('each page of a panel is a hand of its own, also where both have one address', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE });
    const by = 'panel at 127.0.0.1';
    const say = (hand: string, held: boolean) =>
      rig.order({ kind: 'hold', hazard: 'laser', held, hand, by, cause: 'command' });
    const both = () => {
      say('one', true);
      say('two', true);
    };
    const heldBy = () => rig.view.hazards.find(one => one.hazard === 'laser')?.heldBy;
    rig.run(1, { 1: STOVE }, both);
    expect([rig.level('beam'), heldBy()]).toEqual([expect.closeTo(100, 1), [by, by]]);
    say('one', false);
    rig.run(1, { 1: STOVE }, () => say('two', true));
    expect([rig.level('beam'), heldBy()]).toEqual([0, [by]]);
    say('two', false);
    rig.run(1, { 1: STOVE }, both);
    expect(rig.level('beam')).toBeCloseTo(100, 1);
    // One of them dies: off within the time of the show, for all that the other holds.
    rig.run(0.45, { 1: STOVE }, () => say('two', true));
    expect(rig.level('beam')).toBeCloseTo(100, 1);
    rig.run(0.1, { 1: STOVE }, () => say('two', true));
    expect(rig.level('beam')).toBe(0);
    const last = () => rig.eventsOf('enable').at(-1);
    expect(last()).toMatchObject({ gate: 'latched-off', wasOn: true, reason: 'hand-gone' });
    // The only one who holds it dies.
    say('two', false);
    rig.run(1, { 1: STOVE }).run(0.5, { 1: STOVE }, () => say('two', true));
    expect(last()).toMatchObject({ gate: 'on' });
    rig.run(1, { 1: STOVE });
    expect(last()).toMatchObject({ gate: 'off', wasOn: true, reason: 'hand-gone' });
    // One who lets go has released it, whoever was gone before.
    rig.run(0.5, { 1: STOVE }, () => say('two', true));
    say('two', false);
    rig.run(0.2, { 1: STOVE });
    expect(last()).toMatchObject({ gate: 'off', wasOn: true, reason: 'released' });
  });

  test('says nothing of hands that were never there, and why it refuses or drops', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE });
    expect(rig.eventsOf('enable')).toEqual([]);
    rig.run(2, { 1: STOVE }, hold('laser')).run(3, {}, hold('laser')).run(2, { 1: STOVE });
    const said = () =>
      rig
        .eventsOf('enable')
        .filter(({ outputs }) => outputs[0]?.fixture === 'beam')
        .map(({ gate, wasOn, reason }) => [gate, wasOn, reason]);
    expect(said()).toEqual([
      ['on', false, undefined],
      ['latched-off', true, 'nobody-tracked'],
      ['off', false, 'not-repeated'],
    ]);
    order(rig, 'stop');
    rig.tick();
    order(rig, 'enable/laser', number(1));
    rig.tick();
    order(rig, 'enable/laser', number(0));
    rig.tick();
    expect(said().slice(3)).toEqual([
      ['latched-off', false, 'everybody-stopped'],
      ['off', false, 'released'],
    ]);
  });

  test('refused or dropped for one reason in one tick are one event with all of them', () => {
    const all = (rig: Rig) => {
      hold('laser')(rig);
      hold('strobe')(rig);
    };
    const rig = new Rig(HAZARDS).run(0.7, { 1: STOVE }).run(0.1, { 1: STOVE }, all);
    const refused = rig.eventsOf('enable').filter(({ gate }) => gate === 'latched-off');
    expect(refused).toHaveLength(1);
    expect(refused[0]?.outputs).toEqual([
      { fixture: 'beam', hazard: 'laser' },
      { fixture: 'flicker', hazard: 'strobe' },
    ]);
    const live = new Rig(HAZARDS).run(6, { 1: STOVE }).run(2, { 1: STOVE }, all);
    const before = live.eventsOf('enable').length;
    live.run(3, {}, all);
    const dropped = live.eventsOf('enable').slice(before);
    expect(dropped.map(({ gate, wasOn }) => [gate, wasOn])).toEqual([['latched-off', true]]);
    expect(dropped[0]?.outputs.map(({ fixture }) => fixture)).toEqual(['beam', 'flicker']);
  });

  test('pressed while all light is at the safe look is refused, and needs to be pressed anew after it', () => {
    const rig = new Rig(HAZARDS);
    const look = (held: boolean) => rig.order({ kind: 'safe-look', held, cause: 'command' });
    look(true);
    rig.run(6, { 1: STOVE }).run(1, { 1: STOVE }, hold('atmospheric'));
    look(false);
    rig.run(1, { 1: STOVE }, hold('atmospheric'));
    expect(rig.level('hazer', 'Haze1')).toBe(0);
    rig.run(1, { 1: STOVE }).run(1, { 1: STOVE }, hold('atmospheric'));
    expect(rig.level('hazer', 'Haze1')).toBeCloseTo(30, 0);
    look(true);
    rig.run(0.1, { 1: STOVE }, hold('atmospheric'));
    expect(rig.level('hazer', 'Haze1')).toBe(0);
    const said = rig.eventsOf('enable').map(({ gate, wasOn, reason }) => [gate, wasOn, reason]);
    expect(said).toEqual([
      ['latched-off', false, 'safe-look'],
      ['off', false, 'not-repeated'],
      ['on', false, undefined],
      ['latched-off', true, 'safe-look'],
    ]);
  });

  test('pressed before anybody is live is refused with the reason, and so is a hand at the start', () => {
    const early = new Rig(HAZARDS).run(0.2, { 1: STOVE }).run(0.1, { 1: STOVE }, hold('laser'));
    expect(early.eventsOf('enable')).toMatchObject([
      {
        outputs: [{ fixture: 'beam', hazard: 'laser' }],
        gate: 'latched-off',
        wasOn: false,
        reason: 'engine-started',
      },
    ]);
    const soon = new Rig(HAZARDS).run(0.7, { 1: STOVE }).run(0.1, { 1: STOVE }, hold('laser'));
    expect(soon.eventsOf('enable')).toMatchObject([
      {
        outputs: [{ fixture: 'beam', hazard: 'laser' }],
        gate: 'latched-off',
        wasOn: false,
        reason: 'nobody-tracked',
      },
    ]);
  });

  test('falls off with the tracking, in the tick in which it is lost, and does not come back by itself', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE }).run(2, { 1: STOVE }, hold('laser'));
    let wasLive = true;
    rig.run(2, {}, one => {
      hold('laser')(one);
      const live = one.phase('ines') === 'live';
      expect(one.level('beam')).toBe(live ? one.level('beam') : 0);
      if (wasLive && live) expect(one.level('beam')).toBeCloseTo(100, 1);
      wasLive = live;
    });
    // Back, and the hand still on the button.
    rig.run(8, { 1: STOVE }, hold('laser'));
    expect(rig.phase('ines')).toBe('live');
    expect(rig.level('beam')).toBe(0);
    expect(gates(rig)).toMatchObject({ beam: 'latched-off' });
    rig.run(0.6, { 1: STOVE });
    rig.run(0.1, { 1: STOVE }, hold('laser'));
    expect(rig.level('beam')).toBeCloseTo(100, 1);
  });

  test('falls off when everybody is stopped, also where no performer drives it', () => {
    const rig = new Rig(HAZARDS).run(6, { 1: STOVE }).run(1, { 1: STOVE }, hold('atmospheric'));
    expect(rig.level('hazer', 'Haze1')).toBeCloseTo(30, 0);
    order(rig, 'stop');
    rig.run(0.05, { 1: STOVE }, hold('atmospheric'));
    expect(rig.level('hazer', 'Haze1')).toBe(0);
  });

  test.each([
    ['engine-stalled', '', (rig: Rig) => rig.tick(3)],
    ['feed-silent', '', (rig: Rig) => rig.run(6, {}, held)],
    ['desk-lost', ', desk: required', (rig: Rig) => rig.run(6, { 1: STOVE }, held)],
  ] as const)('falls off under a hand that holds it, and says why: %s', (reason, role, befall) => {
    const rig = new Rig(HAZARDS.replace('enableTimeout: 0.5', `enableTimeout: 0.5${role}`));
    rig.run(6, { 1: STOVE }, one => order(one, 'desk'));
    rig.run(1, { 1: STOVE }, one => {
      order(one, 'desk');
      held(one);
    });
    expect(rig.level('hazer', 'Haze1')).toBeCloseTo(30, 0);
    befall(rig);
    rig.run(0.2, { 1: STOVE }, held);
    expect(rig.level('hazer', 'Haze1')).toBe(0);
    const told = rig.eventsOf('enable').filter(({ outputs }) => outputs[0]?.fixture === 'hazer');
    expect(told.map(({ gate, wasOn, reason: why }) => [gate, wasOn, why])).toEqual([
      ['on', false, undefined],
      ['latched-off', true, reason],
    ]);
  });

  test('does not come on with an engine that starts under the hand that held that of the last one', () => {
    const rig = new Rig(HAZARDS).run(10, { 1: STOVE }, hold('laser', 'atmospheric'));
    expect(rig.level('beam')).toBe(0);
    expect(rig.level('hazer', 'Haze1')).toBe(0);
    rig.run(0.6, { 1: STOVE });
    rig.run(0.1, { 1: STOVE }, hold('laser', 'atmospheric'));
    expect(rig.level('beam')).toBeCloseTo(100, 1);
  });

  test('is never on before anybody is tracked, however long the enable is held', () => {
    const rig = new Rig(HAZARDS).run(10, {}, hold('laser', 'atmospheric', 'strobe'));
    rig.run(10, { 1: STOVE }, hold('laser', 'atmospheric', 'strobe'));
    expect(gates(rig)).toEqual({
      hazer: 'latched-off',
      beam: 'latched-off',
      flicker: 'latched-off',
    });
  });
});

test('a shutter strobes only while that is enabled, and opens and closes without', () => {
  const show = `${SOLO.replace(
    'fixtures:',
    `profiles:
  scan:
    channels:
      - { attribute: Dimmer }
      - { attribute: Shutter1, values: { closed: [0, 31], open: [32, 63], strobe-fast: [64, 95] }, default: open }
fixtures:
  scan: { profile: scan, universe: 1, address: 100 }`,
  ).replace(
    'mappings:',
    'mappings:\n  - { zone: stove, fixtures: [scan], set: { Dimmer: 80, Shutter1: strobe-fast }, fade: { in: 0, out: 0 } }',
  )}operator: { port: 9011 }\n`;
  const rig = new Rig(show).run(6, { 1: STOVE });
  const shutter = () => rig.view.levels[100];
  expect(rig.level('scan')).toBeCloseTo(80, 0);
  expect(shutter()).toBe(47);
  rig.run(1, { 1: STOVE }, one => order(one, 'enable/strobe', number(1)));
  expect(shutter()).toBe(79);
  order(rig, 'enable/strobe', number(0));
  rig.tick();
  expect(shutter()).toBe(47);
  // The supervisor does the same: an engine that dies in mid-strobe leaves a steady light to fade.
  rig.run(1, { 1: STOVE }, one => order(one, 'enable/strobe', number(1)));
  const plan = fallbackPlan(rig.show);
  const fallback = createFallback(plan);
  const out = Uint8Array.from(plan.safeLook);
  const beat = (levels: Uint8Array, well: boolean) =>
    stepFallback(fallback, plan, levels, well, 1 / TICK_HZ, out);
  const steady = Uint8Array.from(rig.view.levels);
  steady[100] = 47;
  for (let i = 0; i < 5 * TICK_HZ; i++) beat(steady, true);
  beat(rig.view.levels, true);
  expect(out[100]).toBe(79);
  beat(rig.view.levels, false);
  expect(out[100]).toBe(47);
  expect(out[99]).toBeGreaterThan(190);
});

test('a wheel is not turned through: it has the one value or the other', () => {
  const show = `${SOLO.replace(
    'fixtures:',
    `profiles:
  scan: { channels: [{ attribute: Dimmer }, { attribute: Gobo1 }] }
fixtures:
  scan: { profile: scan, universe: 1, address: 100 }`,
  ).replace(
    'mappings:',
    'mappings:\n  - { zone: stove, fixtures: [scan], set: { Dimmer: 80, Gobo1: 60 }, fade: { in: 1, out: 1 } }',
  )}`;
  const seen = new Set<number>();
  new Rig(show)
    .run(6, { 1: STOVE }, rig => seen.add(Math.round(rig.level('scan', 'Gobo1'))))
    .run(4, { 1: [8, 2] }, rig => seen.add(Math.round(rig.level('scan', 'Gobo1'))))
    .run(5, { 1: STOVE })
    .run(5, {}, rig => seen.add(Math.round(rig.level('scan', 'Gobo1'))));
  expect([...seen].sort((a, b) => a - b)).toEqual([0, 60]);
});

test('whose tracker dies while the desk is lost is told as lost by that, once the desk is back', () => {
  const rig = new Rig(`${HOUSE}operator: { port: 9011, desk: required }\n`);
  const desk = (one: Rig) => order(one, 'desk');
  rig.run(6, BOTH, desk).run(6, BOTH).run(2, { 2: WINDOW }).run(2, { 2: WINDOW }, desk);
  const lost = rig.eventsOf('performer').filter(({ to }) => to === 'losing' || to === 'safe');
  const causes = (name: string) => [
    ...new Set(lost.filter(({ performer }) => performer === name).map(({ cause }) => cause)),
  ];
  expect(causes('ines')).toEqual(['desk-lost', 'tracker-silent']);
  expect(causes('tobias')).toEqual(['desk-lost']);
});
