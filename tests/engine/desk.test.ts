import { describe, expect, test } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import { takeOver } from '../../src/engine/take-over/take-over.js';
import { viewOf } from '../../src/engine/view.js';
import { showOf } from '../show/show-of.js';
import { Rig } from './harness.js';
import { SOLO } from './shows.js';

const STOVE = { 1: [2, 6] } as const;

/** One performer, lamps that slots drive, and cues. */
function show(desk: string, extra = ''): string {
  return `${SOLO.replace('mappings:', `${extra}\nmappings:`)}${desk}`;
}

const CONTROL = (gone = '') =>
  `desk: { control: { protocol: sacn, universe: 201, interface: eth1${gone} } }\n`;

describe('a slot as a signal', () => {
  const SEA = `signals:
  sea: { slot: [control, 4] }
  wide: { slot: [control, 5, 6] }
`;
  const LIT = (gone = '') =>
    show(CONTROL(gone), SEA)
      .replace(
        '  head: {',
        '  sea: { profile: dimmer, universe: 1, address: 101, safe: { Dimmer: 30 } }\n  wide: { profile: dimmer, universe: 1, address: 102 }\n  head: {',
      )
      .replace(
        'watchdog:',
        '  - { by: sea, fixtures: [sea], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }\n  - { by: wide, fixtures: [wide], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }\nwatchdog:',
      );

  test('is its level over 255, and of two slots over 65535, the coarse one first', () => {
    const rig = new Rig(LIT());
    rig.hear(0, { 4: 0 });
    rig.run(4, STOVE);
    expect(rig.level('sea')).toBe(0);
    rig.hear(0, { 4: 51, 5: 0x40, 6: 0xff });
    rig.run(1, STOVE);
    expect(rig.level('sea')).toBeCloseTo(20, 6);
    // 0x40ff of 0xffff, in the 8 bits of the lamp.
    expect(rig.level('wide')).toBeCloseTo((100 * 65) / 255, 6);
    rig.hear(0, { 4: 255 });
    rig.run(1, STOVE);
    expect(rig.level('sea')).toBe(100);
  });

  test.for([
    ['', 60],
    [', gone: hold', 60],
    [', gone: 1', 100],
    [', gone: 0.2', 20],
    [', gone: unknown', 30],
  ] as const)('of a desk that is gone%s', ([gone, level]) => {
    const rig = new Rig(LIT(gone));
    rig.hear(0, { 4: 0 });
    rig.run(4, STOVE);
    rig.hear(0, { 4: 153 });
    rig.run(2, STOVE);
    expect(rig.level('sea')).toBe(60);
    rig.hear(0, {}, false);
    rig.run(4, STOVE);
    expect(rig.level('sea')).toBeCloseTo(level, 0);
    rig.hear(0, { 4: 204 });
    rig.run(4, STOVE);
    expect(rig.level('sea')).toBe(80);
  });

  test('before the desk was ever heard it is unknown, but where `gone` is a number', () => {
    expect(new Rig(LIT()).run(4, STOVE).level('sea')).toBeCloseTo(30, 0);
    expect(new Rig(LIT(', gone: 0.5')).run(4, STOVE).level('sea')).toBeCloseTo(50, 0);
  });

  test('a slot may have a value of its own for a desk that is gone', () => {
    const rig = new Rig(LIT().replace('slot: [control, 4]', 'slot: [control, 4], gone: 0'));
    rig.hear(0, { 4: 255, 5: 255 });
    rig.run(4, STOVE);
    rig.hear(0, {}, false);
    rig.run(4, STOVE);
    expect([rig.level('sea'), rig.level('wide')]).toEqual([0, expect.closeTo(100, 0)]);
  });
});

describe('a slot that orders', () => {
  const CUES = 'cues: { one: {}, two: { fade: 0 }, three: { fade: 0 } }';
  const ordered = (orders: string) => show(`${CONTROL()}orders: [${orders}]\n`, CUES);
  const started = (orders: string, slots: Readonly<Record<number, number>> = {}) => {
    const rig = new Rig(ordered(orders));
    rig.hear(0, slots);
    return rig.run(4, STOVE);
  };
  const say = (rig: Rig, slots: Readonly<Record<number, number>>) => {
    rig.hear(0, slots);
    rig.tick();
  };

  test('brings the next cue on when it rises through a half, once', () => {
    const rig = started('{ slot: [control, 2], cue: next }');
    say(rig, { 2: 127 });
    expect(rig.view.cue?.name).toBe('one');
    say(rig, { 2: 128 });
    say(rig, { 2: 255 });
    expect(rig.view.cue?.name).toBe('two');
    say(rig, { 2: 0 });
    say(rig, { 2: 255 });
    expect(rig.view.cue?.name).toBe('three');
    expect(rig.eventsOf('cue').at(-1)).toMatchObject({ cue: 'three', by: 'desk control' });
  });

  test('brings one on by its name, or by the number that it is', () => {
    const rig = started('{ slot: [control, 1], cue: number }, { slot: [control, 2], cue: two }');
    say(rig, { 1: 3 });
    expect(rig.view.cue?.name).toBe('three');
    say(rig, { 2: 255 });
    expect(rig.view.cue?.name).toBe('two');
    // The number has not changed, and 0 is none.
    say(rig, { 1: 0 });
    expect(rig.view.cue?.name).toBe('two');
    say(rig, { 1: 1 });
    expect(rig.view.cue?.name).toBe('one');
    say(rig, { 1: 4 });
    // A fader that runs on through numbers that are none is refused once.
    for (let number = 5; number < 30; number++) say(rig, { 1: number });
    rig.tick();
    expect(rig.view.cue?.name).toBe('one');
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      { action: { kind: 'cue', by: 'desk control' }, reason: 'the show has no cue "4"' },
    ]);
  });

  test('orders nothing in the first second, nor in that after the desk was gone', () => {
    const orders = '{ slot: [control, 1], cue: number }, { slot: [control, 2], cue: next }';
    const rig = started(orders, { 1: 3, 2: 255 });
    expect(rig.view.cue?.name).toBe('one');
    rig.hear(0, {}, false);
    rig.tick();
    say(rig, { 1: 2, 2: 255 });
    expect(rig.view.cue?.name).toBe('one');
    // A desk that is switched on sends zeros, and then what its faders are at.
    say(rig, { 1: 0, 2: 0 });
    say(rig, { 1: 2, 2: 255 });
    rig.run(1, STOVE);
    expect(rig.view.cue?.name).toBe('one');
    say(rig, { 2: 0 });
    say(rig, { 2: 255 });
    expect(rig.view.cue?.name).toBe('two');
  });

  test('stops on the rise, and the fall takes back only what is held', () => {
    const rig = started(
      '{ slot: [control, 3], stop: everybody }, { slot: [control, 4], stop: ines, held: true }, { slot: [control, 5], resume: everybody }',
    );
    say(rig, { 3: 255 });
    say(rig, { 3: 0 });
    rig.run(3, STOVE);
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.eventsOf('stopped')).toMatchObject([{ everybody: true, by: 'desk control' }]);
    say(rig, { 5: 255 });
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('live');
    say(rig, { 4: 255 });
    rig.run(3, STOVE);
    expect(rig.phase('ines')).toBe('safe');
    say(rig, { 4: 0 });
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('live');
  });

  test('a stop that is held counts in the first packet, and stays when the desk is gone', () => {
    const rig = started('{ slot: [control, 4], stop: ines, held: true }', { 4: 255 });
    expect(rig.phase('ines')).not.toBe('live');
    rig.hear(0, {}, false);
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('waiting');
  });

  test('a fader that stands up, or falls, because another desk counts orders nothing, in its first second either', () => {
    const rig = started(
      '{ slot: [control, 1], cue: number }, { slot: [control, 2], cue: next }, { slot: [control, 3], stop: everybody }',
    );
    const from = (who: string, slots: Readonly<Record<number, number>>) => {
      rig.hear(0, slots, true, who);
      rig.tick();
      return [rig.view.cue?.name, rig.eventsOf('stopped').length];
    };
    expect(from('backup', { 1: 3, 2: 255, 3: 255 })).toEqual(['one', 0]);
    // It sends zeros as it is switched on, and then what its faders are at.
    expect(from('backup', { 1: 0, 2: 0, 3: 0 })).toEqual(['one', 0]);
    expect(from('backup', { 1: 3, 2: 255, 3: 255 })).toEqual(['one', 0]);
    rig.run(1, STOVE);
    from('backup', { 1: 0, 2: 0, 3: 0 });
    expect(from('backup', { 2: 255 })).toEqual(['two', 0]);
  });

  const HELD = '{ slot: [control, 4], stop: ines, held: true }';

  test('another desk whose fader is down lifts no stop that is held; raised and let go there, it does', () => {
    const rig = started(HELD);
    const from = (who: string, level: number) => {
      rig.hear(0, { 4: level }, true, who);
      rig.run(6, STOVE);
      return rig.phase('ines');
    };
    from('house', 0);
    expect(from('house', 255)).toBe('safe');
    expect(from('visitor', 0)).toBe('safe');
    // The fader that holds it is up still.
    expect(from('house', 255)).toBe('safe');
    expect(from('visitor', 0)).toBe('safe');
    // Let go behind the visitor.
    expect(from('house', 0)).toBe('live');
    expect(from('house', 255)).toBe('safe');
    from('visitor', 0);
    expect(from('visitor', 255)).toBe('safe');
    expect(from('visitor', 0)).toBe('live');
    expect(rig.eventsOf('resumed')).toHaveLength(2);
  });

  test('a stop that is held, and let go while the desk is away, ends a second after it is back', () => {
    const rig = started(HELD);
    say(rig, { 4: 255 });
    rig.run(3, STOVE);
    rig.hear(0, {}, false);
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('safe');
    rig.hear(0, { 4: 0 });
    rig.run(0.9, STOVE);
    expect(rig.eventsOf('resumed')).toHaveLength(0);
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('live');
  });

  test('a stop that is held, and let go while there was no engine, ends in the next one', () => {
    const rig = new Rig(ordered(HELD));
    rig.order({ kind: 'stop', performer: 'ines', cause: 'restored' });
    // It is told what the engine before it knew, and then what is now.
    rig.hear(0, { 4: 255 });
    rig.hear(0, { 4: 0 });
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('live');
    const away = new Rig(ordered(HELD));
    away.order({ kind: 'stop', performer: 'ines', cause: 'restored' });
    away.hear(0, { 4: 255 });
    away.hear(0, {}, false);
    away.run(2, STOVE);
    away.hear(0, { 4: 0 });
    away.run(6, STOVE);
    expect(away.phase('ines')).toBe('live');
  });

  test('after a restart of the daemon a fader that is up holds the stop, and its fall ends it; one that is down ends nothing', () => {
    const restarted = (level: number) => {
      const rig = new Rig(ordered(HELD));
      rig.order({ kind: 'stop', performer: 'ines', cause: 'restored' });
      rig.hear(0, { 4: level });
      rig.run(6, STOVE);
      return rig;
    };
    const held = restarted(255);
    expect(held.phase('ines')).not.toBe('live');
    // When it began, and who asked then, is not overwritten.
    expect(held.eventsOf('stopped').map(({ cause }) => cause)).toEqual(['restored']);
    held.hear(0, { 4: 0 });
    held.run(6, STOVE);
    expect(held.phase('ines')).toBe('live');
    // Who stopped her, nobody knows any more: it may have been somebody else.
    const stopped = restarted(0);
    expect(stopped.phase('ines')).not.toBe('live');
    say(stopped, { 4: 255 });
    say(stopped, { 4: 0 });
    stopped.run(6, STOVE);
    expect(stopped.phase('ines')).toBe('live');
  });

  test('zeros of a desk that is switched on lift no stop that is held there', () => {
    const rig = started(HELD);
    say(rig, { 4: 255 });
    rig.hear(0, {}, false);
    rig.tick();
    say(rig, { 4: 0 });
    say(rig, { 4: 255 });
    rig.run(3, STOVE);
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.eventsOf('stopped')).toHaveLength(1);
    say(rig, { 4: 0 });
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('live');
  });

  test('what comes with the last packet before the desk is gone counts', () => {
    const rig = started(
      '{ slot: [control, 3], stop: everybody }, { slot: [control, 2], cue: next }',
    );
    rig.hear(0, { 2: 255, 3: 255 }, false);
    rig.run(2, STOVE);
    expect(rig.eventsOf('stopped')).toMatchObject([{ everybody: true, by: 'desk control' }]);
    expect(rig.view.cue?.name).toBe('two');
  });

  test('sends off stage, and takes back', () => {
    const rig = started('{ slot: [control, 6], off: ines }, { slot: [control, 7], on: ines }');
    say(rig, { 6: 255 });
    rig.run(1);
    expect(rig.view.performers[0]?.offStage).toBe(true);
    say(rig, { 7: 255 });
    rig.run(2, STOVE);
    expect(rig.view.performers[0]?.offStage).toBe(false);
  });
});

describe('an enable by a slot', () => {
  const HAZE = show(`${CONTROL()}orders: [{ slot: [control, 9], enable: atmospheric }]\n`, '')
    .replace(
      '  head: {',
      '  haze: { profile: dimmer, universe: 1, address: 101, hazard: atmospheric }\n  head: {',
    )
    .replace('mappings:', 'mappings:\n  - { zone: stove, fixtures: [haze], set: { Dimmer: 100 } }');
  const say = (rig: Rig, level: number) => {
    rig.hear(0, { 9: level });
    rig.run(2, STOVE);
  };

  test('lasts while it is above a half, and ends when the desk is gone', () => {
    const rig = new Rig(HAZE).run(4, STOVE);
    say(rig, 0);
    expect(rig.level('haze')).toBe(0);
    say(rig, 255);
    expect(rig.level('haze')).toBe(100);
    // Nothing new is said of a slot that does not change.
    rig.run(20, STOVE);
    expect(rig.level('haze')).toBe(100);
    rig.hear(0, { 9: 0 });
    rig.tick();
    expect(rig.level('haze')).toBe(0);
    say(rig, 255);
    rig.hear(0, {}, false);
    rig.tick();
    expect(rig.level('haze')).toBe(0);
    // Up when the desk is back: it has to be let go first.
    say(rig, 255);
    expect(rig.level('haze')).toBe(0);
    say(rig, 0);
    say(rig, 255);
    expect(rig.level('haze')).toBe(100);
  });
  test('is let go when nothing has come for too long, though the desk is not gone yet', () => {
    const rig = new Rig(HAZE).run(4, STOVE);
    say(rig, 0);
    say(rig, 255);
    expect(rig.level('haze')).toBe(100);
    rig.hear(0, {}, true, '', true);
    rig.tick();
    expect(rig.level('haze')).toBe(0);
    say(rig, 255);
    expect(rig.level('haze')).toBe(0);
    say(rig, 0);
    say(rig, 255);
    expect(rig.level('haze')).toBe(100);
  });

  test('has to be raised at whoever counts: one that stands up at another desk, or lasts there, enables nothing', () => {
    const rig = new Rig(HAZE).run(4, STOVE);
    const sayFrom = (from: string, level: number) => {
      rig.hear(0, { 9: level }, true, from);
      rig.run(2, STOVE);
      return rig.level('haze');
    };
    sayFrom('main', 0);
    // The cable of the main desk is out, and the fader of its backup is up.
    expect(sayFrom('backup', 255)).toBe(0);
    expect(sayFrom('backup', 0)).toBe(0);
    expect(sayFrom('backup', 255)).toBe(100);
    // Whoever held it is gone.
    expect(sayFrom('main', 255)).toBe(0);
    sayFrom('main', 0);
    expect(sayFrom('main', 255)).toBe(100);
    // A second desk of the same priority is switched on.
    sayFrom('main', 0);
    expect(sayFrom('main second', 255)).toBe(0);
  });
});

describe('a show that is loaded anew', () => {
  const ORDERS =
    '{ slot: [control, 3], stop: ines, held: true }, { slot: [control, 2], cue: next }';
  const before = show(
    `${CONTROL()}orders: [${ORDERS}]\nreload: 0\n`,
    'cues: { one: { mappings: [] }, two: { fade: 0 } }',
  );
  /** With a lamp by a slot that nothing rested on before. */
  const after = before.replace(
    'mappings:\n',
    'signals: { sea: { slot: [control, 4] } }\nmappings:\n  - { always: true, by: sea, fixtures: [stove-glow], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }\n',
  );

  const reload = (rig: Rig, text: string) => {
    const next = createEngine(showOf(text));
    takeOver(next, rig.engine);
    Object.assign(rig, { engine: next, view: viewOf(next), show: next.show });
  };

  test('knows what the desk said before, and takes no slot that is up for one that rises', () => {
    const rig = new Rig(before);
    rig.hear(0, { 4: 153 });
    rig.run(4, STOVE);
    rig.hear(0, { 2: 255, 4: 153 });
    rig.tick();
    expect(rig.view.cue?.name).toBe('two');
    reload(rig, after);
    rig.run(2, STOVE);
    expect(rig.view.cue?.name).toBe('two');
    expect(rig.level('stove-glow')).toBe(60);
    // All of it is said again to whoever takes over.
    rig.hear(0, {});
    rig.run(1, STOVE);
    expect(rig.eventsOf('cue')).toHaveLength(1);
  });

  test('goes on with a stop that is held, and takes it back when its slot falls', () => {
    const rig = new Rig(before);
    rig.hear(0, {});
    rig.run(4, STOVE);
    rig.hear(0, { 3: 255 });
    rig.run(1, STOVE);
    reload(rig, after);
    rig.run(2, STOVE);
    expect(rig.phase('ines')).toBe('safe');
    rig.hear(0, { 3: 0 });
    rig.run(6, STOVE);
    expect(rig.phase('ines')).toBe('live');
  });

  test('has a slot at what is said of a desk that is gone', () => {
    const rig = new Rig(before.replace('interface: eth1', 'interface: eth1, gone: 0.2'));
    rig.hear(0, { 4: 153 });
    rig.run(4, STOVE);
    rig.hear(0, {}, false);
    rig.tick();
    reload(rig, after.replace('interface: eth1', 'interface: eth1, gone: 0.2'));
    rig.run(2, STOVE);
    expect(rig.level('stove-glow')).toBe(20);
  });
});
