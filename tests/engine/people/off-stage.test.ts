import { describe, expect, test } from 'vitest';
import { snapshot } from '../../../src/engine/snapshot.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import { Rig, TICK_HZ } from '../harness.js';
import { HOUSE } from '../shows.js';

/** A door in the corner beside the stove, and beyond the edge of the stage. */
const SHOW = `${HOUSE}exits:
  door: { polygon: [[-2, 6.5], [1.2, 6.5], [1.2, 8], [-2, 8]] }
operator: { port: 9011 }
`;
const DOOR = [0, 7.2] as const;
const STOVE = [2, 6] as const;
const WINDOW = [8, 7] as const;
const MIDDLE = [5, 3] as const;
const ORDERS = 1;

function order(rig: Rig, address: string, ...args: OscArgument[]): void {
  rig.receive(
    encodePacket({ address: `/lampwright/${address}`, args }),
    rig.nowS,
    ORDERS,
    '10.0.0.5',
  );
}
const named = (value: string): OscArgument => ({ type: 's', value });

/** From the stove to the door on foot, 1 m/s. */
function leaving(t: number) {
  const share = Math.min(1, t / 2.4);
  return {
    1: [STOVE[0] + share * (DOOR[0] - STOVE[0]), STOVE[1] + share * (DOOR[1] - STOVE[1])] as const,
    2: WINDOW,
  };
}

/** Live at the stove, walked to the door, and silent for a while. */
function gone(silentS = 6): Rig {
  const rig = new Rig(SHOW).run(6, { 1: STOVE, 2: WINDOW });
  return rig.run(5, leaving).run(silentS, { 2: WINDOW });
}

const losses = (rig: Rig) => rig.eventsOf('performer').filter(({ to }) => to === 'losing');

describe('who leaves by an exit', () => {
  test('is absent and not lost: no alarm, in no zone, and their light as if they had left the zones', () => {
    const rig = gone();
    expect(rig.phase('ines')).toBe('off');
    expect(losses(rig)).toEqual([]);
    expect(rig.eventsOf('off-stage')).toMatchObject([
      { performers: ['ines'], state: 'away', exit: 'door' },
    ]);
    // The base of the glow, 8, and not its safe value, 20; to the step of a channel of 8 bits.
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    // Nobody to follow: dark, also a head whose safe value is lit.
    expect(rig.level('head')).toBe(0);
    expect(rig.level('lit-head')).toBeCloseTo(60, 0);
    const ines = snapshot(rig.view).performers[0];
    expect(ines).toMatchObject({ phase: 'off', cause: undefined, zones: [] });
    expect(rig.view.performers[0]?.offStage).toBe(true);
    for (const zone of rig.view.zones) expect(zone.presences[0]?.level).toBe(0);
  });

  test('who was at the stove when sent off: the light goes by the fade out of the mapping, and the head by its own', () => {
    const rig = new Rig(SHOW).run(6, { 1: STOVE, 2: WINDOW });
    order(rig, 'off', named('ines'));
    rig.tick();
    const before = rig.level('stove-glow');
    expect(before).toBeGreaterThan(80);
    // fade out 1 s of the stove, 1.5 s of the head.
    rig.run(0.5, { 1: STOVE, 2: WINDOW });
    expect(rig.level('stove-glow')).toBeGreaterThan(35);
    expect(rig.level('stove-glow')).toBeLessThan(50);
    rig.run(0.6, { 1: STOVE, 2: WINDOW });
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    expect(rig.level('head')).toBeGreaterThan(5);
    rig.run(0.6, { 1: STOVE, 2: WINDOW });
    expect(rig.level('head')).toBe(0);
    // Still heard at the stove: she stays off.
    rig.run(10, { 1: STOVE, 2: WINDOW });
    expect(rig.phase('ines')).toBe('off');
    expect(losses(rig)).toEqual([]);
    expect(rig.eventsOf('off-stage')).toMatchObject([
      { performers: ['ines'], state: 'leaving', cause: 'command', by: '10.0.0.5' },
    ]);
  });

  test('comes back when heard on the stage: after rearm, no faster than return, head in the dark first', () => {
    const rig = gone();
    // In the door again: not on the stage yet.
    rig.run(4, { 1: DOOR, 2: WINDOW });
    expect(rig.phase('ines')).toBe('off');
    const back = rig.nowS;
    let highest = 0;
    let last = rig.level('stove-glow');
    rig.run(8, { 1: STOVE, 2: WINDOW }, () => {
      const level = rig.level('stove-glow');
      highest = Math.max(highest, level - last);
      last = level;
      // The light comes up where she is.
      if (rig.level('head') > 1) expect(rig.beamMisses('head', [2, 6, 1.6])).toBeLessThan(0.3);
    });
    const live = rig.eventsOf('performer').find(({ to, atS }) => to === 'live' && atS > back);
    expect((live?.atS ?? 0) - back).toBeGreaterThan(1);
    expect((live?.atS ?? 0) - back).toBeLessThan(2.5);
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    expect(rig.level('head')).toBeGreaterThan(70);
    // 77 per cent over 1.5 s, and a step of 8 bits.
    expect(highest).toBeLessThan(77 / 1.5 / TICK_HZ + 0.5);
    expect(losses(rig)).toEqual([]);
    expect(rig.eventsOf('off-stage').at(-1)).toMatchObject({ state: 'on' });
  });

  test('and who comes back and falls silent on the stage is lost', () => {
    const rig = gone().run(0.3, { 1: MIDDLE, 2: WINDOW }).run(3, { 2: WINDOW });
    expect(losses(rig)).toMatchObject([{ performer: 'ines', cause: 'tracker-silent' }]);
  });

  test('heard beyond the edge of the stage in an exit is no alarm', () => {
    const rig = new Rig(SHOW).run(6, { 1: STOVE, 2: WINDOW }).run(4, leaving);
    rig.run(6, t => ({ 1: [Math.max(-1.5, -t), 7.2], 2: WINDOW }));
    expect(rig.phase('ines')).toBe('off');
    expect(losses(rig)).toEqual([]);
  });

  test('the last one to leave is not lost; that nobody is heard any more is told, and changes no light', () => {
    const rig = new Rig(SHOW)
      .run(6, { 1: STOVE })
      .run(5, t => ({ 1: leaving(t)[1] }))
      .run(30);
    expect(rig.phase('ines')).toBe('off');
    expect(losses(rig)).toEqual([]);
    expect(rig.view.feedSilent).toBe(true);
    expect(rig.eventsOf('feed')).toMatchObject([{ silent: true, performers: [] }]);
  });

  test('a feed that dies while all are in an exit is told, until somebody is heard there or on the stage', () => {
    const inDoor = { 1: DOOR, 2: [0.2, 7.4] } as const;
    const rig = new Rig(SHOW)
      .run(6, { ...inDoor, 1: STOVE })
      .run(5, t => ({ ...leaving(t), 2: inDoor[2] }));
    expect(rig.view.feedSilent).toBe(false);
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    rig.run(60);
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    expect(rig.eventsOf('feed')).toMatchObject([{ silent: true, performers: [] }]);
    expect([rig.view.feedSilent, snapshot(rig.view).feedSilent]).toEqual([true, true]);
    expect(losses(rig)).toEqual([]);
    rig.run(1, inDoor);
    expect(rig.view.feedSilent).toBe(false);
    expect(rig.eventsOf('feed')).toMatchObject([{ silent: true }, { silent: false }]);
  });
});

describe('an exit hides no loss on stage', () => {
  test('who falls silent beside it, or so near to its edge that they may be beside it', () => {
    for (const x of [2.5, 1.3, 1.1]) {
      const at = [x, 7.2] as const;
      const rig = new Rig(SHOW).run(8, { 1: at, 2: WINDOW }).run(3, { 2: WINDOW });
      expect(losses(rig), String(x)).toMatchObject([{ performer: 'ines' }]);
      expect(rig.eventsOf('off-stage')).toEqual([]);
    }
  });

  test('who was in it, and on the way to the stage', () => {
    const rig = new Rig(SHOW).run(6, { 1: DOOR, 2: WINDOW });
    // Two metres a second towards the stage: 0.4 m inside of the edge when they fall silent.
    rig.run(0.4, t => ({ 1: [DOOR[0] + 2 * t, 7.2], 2: WINDOW })).run(3, { 2: WINDOW });
    expect(losses(rig)).toMatchObject([{ performer: 'ines' }]);
  });

  test('who jumps into it', () => {
    const rig = new Rig(SHOW).run(8, { 1: WINDOW, 2: MIDDLE });
    rig.run(0.8, { 1: DOOR, 2: MIDDLE }).run(3, { 2: MIDDLE });
    expect(losses(rig)[0]).toMatchObject({ performer: 'ines', cause: 'jumped' });
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.eventsOf('off-stage')).toEqual([]);
  });

  test('when the whole feed falls silent while somebody else is on stage', () => {
    const rig = new Rig(SHOW).run(6, { 1: STOVE, 2: WINDOW }).run(5, leaving).run(4);
    expect(
      losses(rig)
        .map(({ performer }) => performer)
        .sort(),
    ).toEqual(['ines', 'tobias']);
    expect(rig.eventsOf('feed')).toMatchObject([{ silent: true }]);
  });
});

describe('orders', () => {
  test('of somebody who is lost: the safe values first, and nothing comes up on the way', () => {
    const rig = new Rig(SHOW).run(6, { 1: STOVE, 2: WINDOW }).run(1.5, { 2: WINDOW });
    expect(rig.phase('ines')).toBe('losing');
    order(rig, 'off', named('ines'));
    let last = rig.level('stove-glow');
    rig.run(6, { 2: WINDOW }, () => {
      expect(rig.level('stove-glow')).toBeLessThanOrEqual(last);
      last = rig.level('stove-glow');
    });
    expect(rig.phase('ines')).toBe('off');
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
  });

  test('of everybody, and a stop on top goes to the safe look', () => {
    const rig = new Rig(SHOW).run(6, { 1: STOVE, 2: WINDOW });
    order(rig, 'off');
    rig.run(6);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['off', 'off']);
    expect(rig.level('lit-head')).toBe(0);
    order(rig, 'stop');
    rig.run(6);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['safe', 'safe']);
    expect(rig.view.levels).toEqual(new Rig(SHOW).view.levels);
    order(rig, 'resume');
    rig.run(6);
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['off', 'off']);
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    // On again, and not heard: that is a loss.
    order(rig, 'on', named('ines'));
    rig.run(4);
    expect(rig.phase('ines')).toBe('safe');
  });

  test('of somebody who was never heard, and of whom nobody is', () => {
    const rig = new Rig(SHOW).run(2, { 2: WINDOW });
    rig.order({ kind: 'off', performer: 'ines', cause: 'restored', away: true });
    rig.order({ kind: 'off', performer: 'nobody', cause: 'command' });
    rig.run(3, { 2: WINDOW });
    expect(rig.phase('ines')).toBe('off');
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      { reason: 'the show has no performer "nobody"' },
    ]);
    rig.run(3, { 1: STOVE, 2: WINDOW });
    expect(rig.phase('ines')).toBe('live');
    rig.order({ kind: 'off', performer: 'ines', cause: 'command', id: 7 });
    rig.order({ kind: 'off', performer: 'ines', cause: 'command', id: 8 });
    rig.order({ kind: 'on', performer: 'ines', cause: 'command', id: 9 });
    rig.tick();
    rig.order({ kind: 'on', performer: 'ines', cause: 'command', id: 10 });
    rig.run(1, { 1: STOVE, 2: WINDOW });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.eventsOf('operator-done').at(-1)).toMatchObject({ changed: false });
  });
});

describe('a cue that sends performers off stage, or on', () => {
  const CUES = `${SHOW}cues:
  act-one: { mappings: [] }
  act-two: { off: [ines], fade: 0 }
  act-three: { on: [ines], fade: 0 }
`;
  const BOTH = { 1: STOVE, 2: WINDOW };
  const go = (rig: Rig, name: string, cause: 'command' | 'restored' = 'command') =>
    rig.order({ kind: 'cue', to: { name }, cause, by: 'anna', id: 1 });

  test('does so as it comes on, and says that it was the cue', () => {
    const rig = new Rig(CUES).run(4, BOTH);
    go(rig, 'act-two');
    rig.run(2 / TICK_HZ, BOTH);
    expect(rig.phase('ines')).toBe('off');
    // Off stage and silent: no loss.
    rig.run(3, { 2: WINDOW });
    expect(losses(rig)).toEqual([]);
    go(rig, 'act-three');
    rig.run(1, { 2: WINDOW });
    expect(rig.phase('ines')).not.toBe('off');
    expect(rig.eventsOf('off-stage').filter(({ by }) => by !== undefined)).toMatchObject([
      { performers: ['ines'], state: 'leaving', cause: 'command', by: 'cue act-two' },
      { performers: ['ines'], state: 'on', cause: 'command', by: 'cue act-three' },
    ]);
  });

  test('not where it is on as before: who is off stage is kept by itself', () => {
    const rig = new Rig(CUES);
    go(rig, 'act-two', 'restored');
    rig.run(4, BOTH);
    expect(rig.phase('ines')).toBe('live');
  });
});

describe('who was sent off and is still heard on the stage', () => {
  test('stays off when an engine begins again, which has not heard them yet', () => {
    const rig = new Rig(SHOW);
    rig.order({ kind: 'off', performer: 'ines', cause: 'restored' });
    rig.run(0.4, {}).run(4, { 1: STOVE, 2: WINDOW });
    expect(rig.phase('ines')).toBe('off');
    expect(rig.phase('tobias')).toBe('live');
    expect(rig.eventsOf('off-stage')).toMatchObject([{ state: 'leaving', cause: 'restored' }]);
    // They leave, and come back: then they are on.
    rig.run(4, { 2: WINDOW }).run(4, { 1: STOVE, 2: WINDOW });
    expect(rig.phase('ines')).toBe('live');
  });

  test('stays off when the whole feed falls silent for a while, and others were to be heard', () => {
    const rig = new Rig(SHOW).run(4, { 1: STOVE, 2: WINDOW });
    order(rig, 'off', named('ines'));
    rig.run(2, { 1: STOVE, 2: WINDOW }).run(6, {}).run(4, { 1: STOVE, 2: WINDOW });
    expect(rig.phase('ines')).toBe('off');
    expect(rig.phase('tobias')).toBe('live');
    expect(rig.eventsOf('off-stage')).toMatchObject([{ state: 'leaving' }]);
  });

  test('and who is not heard there any more is told to be off stage at once', () => {
    const rig = new Rig(SHOW).run(4, { 1: STOVE, 2: WINDOW }).run(4, { 2: WINDOW });
    order(rig, 'off', named('ines'));
    rig.run(1, { 2: WINDOW });
    expect(rig.eventsOf('off-stage')).toMatchObject([{ performers: ['ines'], state: 'away' }]);
  });
});
