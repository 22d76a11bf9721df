import { describe, expect, test } from 'vitest';
import { act } from '../../../src/engine/cues/actions.js';
import { createEngine } from '../../../src/engine/engine.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import { takeOver } from '../../../src/engine/take-over/take-over.js';
import { Rig, TICK_HZ } from '../harness.js';
import { SOLO } from '../shows.js';

const SHOW = `${SOLO.replace(
  'mappings:',
  `signals:
  at-stove: { presence: { zone: stove, of: ines } }
conditions:
  lit: { signal: at-stove, on: 0.5, off: 0.2 }
mappings:`,
)}receivers:
  sound: { address: 127.0.0.1, port: 9050 }
actions:
  - { condition: lit, send: sound, address: /stove, arguments: [1, 0.5, low, true] }
  - { condition: lit, on: leave, send: sound, address: /stove/off }
`;
const STOVE = { 1: [2, 6] as const };
const AWAY = { 1: [5, 3] as const };
/** On foot, 1.4 m/s; and back. */
const there = (t: number) => walk(Math.min(1, t / 3));
const back = (t: number) => walk(Math.max(0, 1 - t / 3));
const walk = (share: number) => ({ 1: [5 - 3 * share, 3 + 3 * share] as const });
const sent = (rig: Rig) => rig.eventsOf('action').map(({ address }) => address);

describe('actions', () => {
  test('are due when a condition is entered, and when it is left', () => {
    const rig = new Rig(SHOW).run(4, AWAY).run(4, there);
    expect(rig.eventsOf('action')).toMatchObject([
      { of: 'condition', name: 'lit', on: 'enter', receiver: 'sound', args: [1, 0.5, 'low', true] },
    ]);
    rig.run(4, back);
    expect(sent(rig)).toEqual(['/stove', '/stove/off']);
    expect(rig.view.counters).toMatchObject({ actionsSent: 2, actionsHeld: 0 });
  });

  test('from unknown to yes nothing is sent; what was entered is left once it is surely over', () => {
    // Nobody is heard at first: unknown, and then at once yes.
    const rig = new Rig(SHOW).run(2).run(4, STOVE);
    expect(sent(rig)).toEqual([]);
    rig.run(4, back).run(4, there);
    expect(sent(rig)).toEqual(['/stove']);
    // Lost at the stove, and found there: nothing. Lost there, and found elsewhere: it is over.
    rig.run(8).run(4, STOVE);
    expect(sent(rig)).toEqual(['/stove']);
    rig.run(8).run(4, AWAY);
    expect(sent(rig)).toEqual(['/stove', '/stove/off']);
  });

  test('nothing is sent of what is so as the engine starts', () => {
    // A wave is known from the first tick on: one of the two conditions is true there.
    const rig = new Rig(
      SHOW.replace('signals:\n', 'signals:\n  slow: { wave: { period: 3600 } }\n')
        .replace(
          'conditions:\n',
          'conditions:\n  high: { signal: slow, on: 0.5 }\n  low: { not: high }\n',
        )
        .replace(
          'actions:\n',
          'actions:\n  - { condition: high, send: sound, address: /high }\n  - { condition: low, send: sound, address: /low }\n',
        ),
    ).run(1);
    expect(sent(rig)).toEqual([]);
  });

  test('what was entered before an engine died is left by the next one, once it is surely over', () => {
    const rig = new Rig(SHOW).run(4, AWAY).run(4, there);
    expect(rig.eventsOf('entered')).toMatchObject([{ condition: 'lit', entered: true }]);
    const next = new Rig(SHOW);
    next.order({ kind: 'entered', condition: 'lit', cause: 'restored' });
    // Unknown, and then yes: it goes on.
    next.run(2).run(4, STOVE);
    expect(sent(next)).toEqual([]);
    next.run(4, back);
    expect(sent(next)).toEqual(['/stove/off']);
    expect(next.eventsOf('entered')).toMatchObject([{ condition: 'lit', entered: false }]);
    // Of another condition nobody is told when it is left.
    next.order({ kind: 'entered', condition: 'gone', cause: 'restored' });
    next.run(0.1);
    expect(next.eventsOf('operator-refused')).toMatchObject([
      { reason: 'nobody is told when a condition "gone" is left' },
    ]);
    // Nor where only its entering is told.
    const enters = new Rig(SHOW.replace(/\n.*stove\/off }/, ''));
    enters.order({ kind: 'entered', condition: 'lit', cause: 'restored' });
    enters.run(0.1);
    expect(enters.eventsOf('operator-refused')).toHaveLength(1);
  });

  test('each at most ten times in any second, and the rest is counted', () => {
    let { engine } = new Rig(SHOW);
    const times: number[] = [];
    // From no to yes and back in every tick, for 3 s; the show is read again in the middle of the second one.
    for (let i = 0; i < 3 * TICK_HZ; i++) {
      if (i === 1.25 * TICK_HZ) {
        const next = createEngine(engine.show);
        takeOver(next, engine);
        engine = next;
      }
      const { actions, signals, cues } = engine;
      const { surely, possibly } = signals.network.conditions;
      surely.fill(i % 2);
      possibly.fill(i % 2);
      const events: EngineEvent[] = [];
      act(actions, signals, cues, 100 + i / TICK_HZ, events);
      if (events.some(event => event.kind === 'action' && event.on === 'enter')) {
        times.push(i / TICK_HZ);
      }
    }
    expect(times.length).toBe(30);
    times.forEach((atS, i) => {
      expect(atS - (times[i - 10] ?? Number.NEGATIVE_INFINITY)).toBeGreaterThan(1 - 1e-9);
    });
    const { actions } = engine;
    expect(actions.counters.actionsSent + actions.counters.actionsHeld).toBe(3 * TICK_HZ - 1);
  });

  test('of a cue: when it comes on, and when another one does', () => {
    const show = `${SOLO.replace('{ zone: stove,', '{ name: glow, zone: stove,')}cues:
  first: { mappings: [glow] }
  second: { mappings: [], fade: 1 }
receivers:
  video: { address: 127.0.0.1, port: 9050 }
actions:
  - { cue: second, send: video, address: /second }
  - { cue: first, on: leave, send: video, address: /first/over }
  - { cue: first, send: video, address: /first }
`;
    const rig = new Rig(show).run(1);
    expect(sent(rig)).toEqual([]);
    rig.order({ kind: 'cue', to: 'next', cause: 'command' });
    rig.run(1);
    expect(sent(rig)).toEqual(['/second', '/first/over']);
    rig.order({ kind: 'cue', to: { name: 'first' }, cause: 'restored' });
    rig.run(1);
    expect(sent(rig)).toHaveLength(2);
  });
});
