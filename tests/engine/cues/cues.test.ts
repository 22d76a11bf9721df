import { describe, expect, it, test } from 'vitest';
import { absorb } from '../../../src/engine/step.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { Rig, TICK_HZ } from '../harness.js';

/** Two performers; a lamp each, one for both, one for nobody; a head whose performer changes with the cue. */
const SHOW = `
lampwright: 1
name: Three cues
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
operator: { port: 9011 }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1, base: { Dimmer: 10 }, safe: { Dimmer: 20 } }
  both: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: 30 } }
  sea: { profile: dimmer, universe: 1, address: 3 }
  head: { profile: moving-head, universe: 1, address: 21, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
  window: { profile: moving-head, universe: 1, address: 41, position: [8, 1, 5], base: { aim: [8, 6, 0], Dimmer: 50 }, safe: { aim: [8, 6, 0], Dimmer: 40 } }
mappings:
  - { name: stove, zone: stove, performers: [ines], fixtures: [glow, both], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }
  - { name: harbour, zone: stove, performers: [tobias], fixtures: [both], set: { Dimmer: 60 }, fade: { in: 0, out: 0 } }
  - { name: on-ines, follow: ines, fixtures: [head], set: { Dimmer: 75 }, fade: { in: 0, out: 0 } }
  - { name: on-tobias, follow: tobias, fixtures: [head], set: { Dimmer: 50 }, fade: { in: 0, out: 0 } }
cues:
  prologue: { mappings: [stove, on-ines], fade: 2 }
  storm:
    mappings: [harbour: 50, on-tobias]
    base: { sea: { Dimmer: 60 }, window: { aim: [2, 6, 0] } }
    safe: { sea: { Dimmer: 40 }, both: { Dimmer: 10 }, window: { aim: [5, 6, 0] } }
    fade: 4
  dark: { fade: 0, base: { glow: { Dimmer: 0 }, window: { Dimmer: 0 } } }
watchdog:
  trackerSilent: { after: 0.5, fade: 2 }
  feedSilent: { after: 0.75, fade: 2 }
  rearm: 0.5
  return: 1
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

const BOTH = { 1: [2, 6], 2: [2, 6] } as const;
const INES = { 1: [2, 6] } as const;
const TOBIAS = { 2: [2, 6] } as const;

function live(): Rig {
  return new Rig(SHOW).run(6, BOTH);
}

function go(rig: Rig, to: string): void {
  const target = to === 'next' || to === 'back' ? to : { name: to };
  rig.order({ kind: 'cue', to: target, cause: 'command', id: 1 });
}

const lamps = (rig: Rig) => ['glow', 'both', 'sea'].map(name => Math.round(rig.level(name)));

describe('a cue', () => {
  it('the first is on at the start: its mappings act, and no other', () => {
    const rig = live();
    expect(rig.view.cue).toMatchObject({ name: 'prologue', share: 1 });
    expect(lamps(rig)).toEqual([80, 80, 0]);
    expect(rig.beamMisses('head', [2, 6, 1.6])).toBeLessThan(0.1);
  });

  it('takes effect in the tick of its order, and is crossfaded from what is lit over its fade', () => {
    const rig = live();
    go(rig, 'storm');
    const before = rig.level('sea');
    rig.run(1 / TICK_HZ, BOTH);
    // 60 per cent over 4 s: 0.375 per cent a tick, one step of 255 or none; the next tick shows it for sure.
    expect(rig.level('sea')).toBeGreaterThan(before);
    rig.run(2 - 1 / TICK_HZ, BOTH);
    expect(rig.view.cue).toMatchObject({ name: 'storm', before: 'prologue' });
    expect(rig.view.cue?.share).toBeCloseTo(0.5, 6);
    // Half way it is half of what the one cue shows, and half of what the other does.
    expect(lamps(rig)).toEqual([45, 55, 30]);
    rig.run(2.1, BOTH);
    expect(lamps(rig)).toEqual([10, 30, 60]);
  });

  it('in the middle of another goes on from where the light stands', () => {
    const rig = live();
    go(rig, 'storm');
    rig.run(2, BOTH);
    const [glow, , sea] = lamps(rig);
    go(rig, 'prologue');
    rig.run(1 / TICK_HZ, BOTH);
    expect(Math.abs(rig.level('glow') - (glow as number))).toBeLessThan(2);
    expect(Math.abs(rig.level('sea') - (sea as number))).toBeLessThan(2);
    rig.run(1, BOTH);
    expect(rig.level('sea')).toBeCloseTo(15, 0);
    rig.run(1.1, BOTH);
    expect(lamps(rig)).toEqual([80, 80, 0]);
  });

  it('without a fade is there at once, in the tick of its order', () => {
    const rig = live();
    go(rig, 'dark');
    rig.run(1 / TICK_HZ, BOTH);
    expect(lamps(rig)).toEqual([0, 0, 0]);
  });

  it('says when it comes on, by whom, and in what time; said twice it is so already', () => {
    const rig = live();
    rig.order({ kind: 'cue', to: 'next', cause: 'command', by: 'anna', id: 7 });
    rig.order({ kind: 'cue', to: { name: 'storm' }, cause: 'command', by: 'anna', id: 8 });
    rig.run(0.1, BOTH);
    const [event, ...more] = rig.eventsOf('cue');
    expect(more).toEqual([]);
    expect(event).toMatchObject({ cue: 'storm', previous: 'prologue', fadeS: 4, by: 'anna' });
    expect(rig.eventsOf('operator-done').map(({ changed, cue }) => [changed, cue])).toEqual([
      [true, 'storm'],
      [false, 'storm'],
    ]);
  });

  it('is a step from the cue in which it was asked, and refused where another is on by now', () => {
    const rig = live();
    const step = (id: number) =>
      rig.order({ kind: 'cue', to: 'next', from: 'prologue', cause: 'command', id });
    step(1);
    step(2);
    rig.run(0.1, BOTH);
    step(3);
    rig.run(0.1, BOTH);
    expect(rig.view.cue).toMatchObject({ name: 'storm' });
    expect(rig.eventsOf('operator-done').map(({ action }) => action.id)).toEqual([1]);
    expect(
      rig.eventsOf('operator-refused').map(({ action, reason }) => [action.id, reason]),
    ).toEqual(
      [2, 3].map(id => [id, 'this was asked in cue "prologue", and cue "storm" is on by now']),
    );
  });

  it('the last has no next, and the first no back; an unknown one is refused', () => {
    const rig = live();
    go(rig, 'back');
    go(rig, 'dark');
    go(rig, 'next');
    go(rig, 'epilogue');
    rig.run(0.1, BOTH);
    expect(rig.eventsOf('operator-done').map(({ changed, cue }) => [changed, cue])).toEqual([
      [false, 'prologue'],
      [true, 'dark'],
      [false, 'dark'],
    ]);
    expect(rig.eventsOf('operator-refused')[0]?.reason).toBe('the show has no cue "epilogue"');
  });
});

describe('by OSC', () => {
  const send = (
    rig: Rig,
    address: string,
    ...args: ({ type: 's'; value: string } | { type: 'i'; value: number })[]
  ) => rig.receive(encodePacket({ address, args }), rig.nowS, 1, '10.0.0.5');

  it('a name as text, or in the address; next and back', () => {
    const rig = live();
    send(rig, '/lampwright/cue', { type: 's', value: 'dark' });
    rig.run(0.1, BOTH);
    expect(rig.view.cue?.name).toBe('dark');
    send(rig, '/lampwright/cue/storm', { type: 'i', value: 1 });
    rig.run(0.1, BOTH);
    send(rig, '/lampwright/cue/storm', { type: 'i', value: 0 });
    rig.run(0.1, BOTH);
    expect(rig.view.cue?.name).toBe('storm');
    send(rig, '/lampwright/cue/back');
    rig.run(0.1, BOTH);
    expect(rig.view.cue?.name).toBe('prologue');
    expect(rig.eventsOf('cue').at(-1)?.by).toBe('10.0.0.5');
    send(rig, '/lampwright/cue/epilogue');
    send(rig, '/lampwright/cue', { type: 'i', value: 1 });
    rig.run(0.1, BOTH);
    expect(rig.view.counters.drops).toMatchObject({ 'unknown-cue': 1, 'order-arguments': 1 });
  });

  it('by its label or in other letters; an unknown one is told at once, with what was meant, and not each time', () => {
    const rig = new Rig(SHOW.replace('  storm:\n', '  storm:\n    label: The Storm\n')).run(
      6,
      BOTH,
    );
    send(rig, '/lampwright/cue', { type: 's', value: 'The Storm' });
    rig.run(0.1, BOTH);
    expect(rig.view.cue?.name).toBe('storm');
    send(rig, '/lampwright/cue', { type: 's', value: 'DARK' });
    rig.run(0.1, BOTH);
    expect(rig.view.cue?.name).toBe('dark');
    for (let i = 0; i < 3; i++) {
      send(rig, '/lampwright/cue', { type: 's', value: 'strom' });
      rig.run(0.1, BOTH);
    }
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      {
        action: { kind: 'cue', to: { name: 'strom' }, by: '10.0.0.5' },
        reason: 'the show has no cue "strom". Did you mean "storm"?',
      },
    ]);
  });

  it('a button that is held, or a packet that comes twice, is one next', () => {
    const rig = live();
    for (let i = 0; i < 10; i++) {
      send(rig, '/lampwright/cue/next', { type: 'i', value: 1 });
      rig.run(0.2, BOTH);
    }
    expect(rig.view.cue?.name).toBe('storm');
    send(rig, '/lampwright/cue/next', { type: 'i', value: 0 });
    send(rig, '/lampwright/cue/next', { type: 'i', value: 1 });
    rig.run(0.1, BOTH);
    expect(rig.view.cue?.name).toBe('dark');
  });
});

describe('a loss', () => {
  it('goes to the safe values of the cue that is on', () => {
    const rig = live();
    go(rig, 'storm');
    rig.run(4.1, BOTH);
    rig.run(4, INES);
    expect(rig.phase('tobias')).toBe('safe');
    // `sea` rests on nobody, `glow` on nobody in this cue, `both` on Tobias.
    expect(lamps(rig)).toEqual([10, 10, 60]);
  });

  it('of who has no say in the cue changes nothing', () => {
    const rig = live();
    const before = lamps(rig);
    rig.run(5, INES);
    expect(rig.phase('tobias')).toBe('safe');
    expect(lamps(rig)).toEqual(before);
  });

  it('of who has no say in the cue leaves a lamp below its safe value', () => {
    const rig = new Rig(
      SHOW.replace('address: 2, safe: { Dimmer: 30 }', 'address: 2, safe: { Dimmer: 95 }'),
    );
    rig.run(6, BOTH);
    expect(rig.level('both')).toBeCloseTo(80, 0);
    rig.run(5, INES, () => expect(rig.level('both')).toBeCloseTo(80, 0));
    expect(rig.phase('tobias')).toBe('safe');
  });

  it('stays a loss through a cue: from the safe values of the one to those of the other', () => {
    const rig = live().run(5, TOBIAS);
    expect(rig.phase('ines')).toBe('safe');
    expect(lamps(rig)).toEqual([20, 30, 0]);
    go(rig, 'storm');
    const seen: number[] = [];
    rig.run(4.1, TOBIAS, now => seen.push(now.level('both')));
    // In `storm` it is Tobias's, who is there: 30.
    expect(Math.min(...seen)).toBeGreaterThan(11);
    expect(Math.max(...seen)).toBeLessThan(31);
    expect(lamps(rig)).toEqual([10, 30, 60]);
  });

  it('in the middle of a crossfade takes as long as it always does', () => {
    const rig = live();
    go(rig, 'storm');
    rig.run(1, BOTH);
    rig.run(3, {});
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.phase('tobias')).toBe('safe');
    rig.run(0.5, {});
    expect(lamps(rig)).toEqual([10, 10, 60]);
  });
});

describe('a head', () => {
  it('that another performer has in the next cue goes dark, moves, and comes up on them', () => {
    const rig = new Rig(SHOW).run(6, { 1: [2, 6], 2: [8, 3] });
    go(rig, 'storm');
    let isDark = false;
    rig.run(6, { 1: [2, 6], 2: [8, 3] }, now => {
      const lit = now.level('head') > 0.5;
      isDark ||= !lit;
      const [onInes, onTobias] = [
        now.beamMisses('head', [2, 6, 1.6]),
        now.beamMisses('head', [8, 3, 1.6]),
      ];
      // Whatever shows is on one of the two.
      if (lit) expect(isDark ? onTobias : onInes).toBeLessThan(0.15);
    });
    expect(isDark).toBe(true);
    expect(rig.level('head')).toBeCloseTo(50, 0);
  });

  it.each([['lit by nobody: base', BOTH, [8, 6, 0], [2, 6, 0], 'window']] as const)(
    '%s: another aim is a way in the dark',
    (_, places, from, to, name) => {
      const rig = live();
      expect(rig.beamMisses(name, from)).toBeLessThan(0.1);
      go(rig, 'storm');
      let isDark = false;
      rig.run(6, places, now => {
        const lit = now.level(name) > 0.5;
        isDark ||= !lit;
        if (lit) expect(now.beamMisses(name, isDark ? to : from)).toBeLessThan(0.15);
      });
      expect(rig.level(name)).toBeCloseTo(50, 0);
      expect(rig.beamMisses(name, to)).toBeLessThan(0.1);
    },
  );

  it('that the next cue leaves dark fades out with the cue on its performer, and moves when it is dark', () => {
    const rig = new Rig(SHOW.replace('dark: { fade: 0,', 'dark: { fade: 4,')).run(6, INES);
    go(rig, 'dark');
    let seconds = 0;
    let before = rig.level('head');
    rig.run(4, INES, now => {
      seconds += 1 / TICK_HZ;
      const level = now.level('head');
      expect(level).toBeLessThanOrEqual(before);
      before = level;
      // 75 per cent, over 4 s in a straight line; 1 for the rounding to a slot and a tick.
      expect(Math.abs(level - 75 * Math.max(0, 1 - seconds / 4))).toBeLessThan(1);
      if (level > 0) expect(now.beamMisses('head', [2, 6, 1.6])).toBeLessThan(0.15);
    });
    // The base aim of a head is straight down where nothing is said; then it is there, dark.
    const wasAt = rig.beamMisses('head', [2, 6, 1.6]);
    rig.run(4, INES, now => expect(now.level('head')).toBe(0));
    expect(rig.beamMisses('head', [2, 6, 1.6])).toBeGreaterThan(wasAt + 0.5);
  });

  it('of a base aim that the next cue leaves dark keeps it until it is', () => {
    const rig = new Rig(
      SHOW.replace('dark: { fade: 0,', 'dark: { fade: 4,').replace(
        'window: { Dimmer: 0 }',
        'window: { aim: [2, 6, 0], Dimmer: 0 }',
      ),
    ).run(6, INES);
    go(rig, 'dark');
    let before = rig.level('window');
    rig.run(4, INES, now => {
      const level = now.level('window');
      expect(level).toBeLessThanOrEqual(before);
      before = level;
      if (level > 0) expect(now.beamMisses('window', [8, 6, 0])).toBeLessThan(0.15);
    });
    rig.run(4, INES, now => expect(now.level('window')).toBe(0));
    expect(rig.beamMisses('window', [2, 6, 0])).toBeLessThan(0.15);
  });

  it('that is in the middle of a turn when a cue leaves it dark stays dark', () => {
    const rig = new Rig(SHOW.replace('dark: { fade: 0,', 'dark: { fade: 4,')).run(6, {
      1: [2, 6],
      2: [8, 3],
    });
    go(rig, 'storm');
    rig.run(1.2, { 1: [2, 6], 2: [8, 3] });
    go(rig, 'dark');
    let wasDark = false;
    rig.run(6, { 1: [2, 6], 2: [8, 3] }, now => {
      const lit = now.level('head') > 0;
      if (wasDark) expect(lit).toBe(false);
      wasDark ||= !lit;
    });
    expect(wasDark).toBe(true);
  });

  it('that is lost follows the one whom the cue names, who is not', () => {
    const rig = live().run(5, TOBIAS);
    expect(rig.level('head')).toBe(0);
    go(rig, 'storm');
    rig.run(5, TOBIAS);
    expect(rig.level('head')).toBeCloseTo(50, 0);
    expect(rig.beamMisses('head', [2, 6, 1.6])).toBeLessThan(0.1);
  });
});

test('what was kept is on from the first tick on, at its safe look', () => {
  const rig = new Rig(SHOW);
  rig.order({ kind: 'cue', to: { name: 'storm' }, cause: 'restored' });
  rig.tick();
  expect(rig.view.cue).toMatchObject({ name: 'storm', share: 1 });
  // Both would be at 30 in the safe look of the first.
  expect(rig.level('both')).toBeCloseTo(10, 0);
  expect(rig.beamMisses('window', [5, 6, 0])).toBeLessThan(0.1);
});

test('after a stall it is on as a whole', () => {
  const rig = live();
  go(rig, 'storm');
  rig.run(1, BOTH);
  rig.tick(3);
  expect(rig.view.cue).toMatchObject({ name: 'storm', share: 1 });
  expect(rig.level('both')).toBeCloseTo(10, 0);
});

test('asked for in the tick after a stall it is on as a whole, and told', () => {
  const rig = live();
  rig.run(1, BOTH);
  go(rig, 'storm');
  rig.tick(3);
  rig.tick();
  expect(rig.view.cue).toMatchObject({ name: 'storm' });
  rig.run(5, BOTH);
  expect(rig.eventsOf('cue').map(({ cue }) => cue)).toEqual(['storm']);
  expect(lamps(rig)).toEqual([10, 30, 60]);
});

test('asked for just before a stall it comes on after it, and is told', () => {
  const rig = live();
  // The datagram is read ahead of the tick, and the tick comes late.
  const args = [{ type: 's' as const, value: 'storm' }];
  const bytes = encodePacket({ address: '/lampwright/cue', args });
  const from = '10.0.0.5';
  const datagrams = [{ input: rig.show.operator?.input ?? 0, bytes, arrivalS: rig.nowS, from }];
  absorb(rig.engine, { datagrams, unixOffsetS: rig.unixOffsetS }, rig.nowS);
  rig.tick(2);
  expect(rig.view.cue?.name).toBe('storm');
  expect(rig.eventsOf('cue')).toMatchObject([{ cue: 'storm', previous: 'prologue', by: from }]);
  rig.run(6, BOTH);
  expect(lamps(rig)).toEqual([10, 30, 60]);
});

describe('a condition', () => {
  const FIRED = SHOW.replace(
    'cues:\n',
    'signals: { near: { presence: { zone: stove, of: ines } } }\nconditions: { at-stove: { signal: near, on: 0.5 } }\ncues:\n',
  ).replace('dark: { fade: 0,', 'dark: { fade: 0, fire: at-stove,');

  it('brings its cue on when it becomes yes, and not again while it stays so', () => {
    const rig = new Rig(FIRED).run(3, { 1: [8, 6], 2: [2, 6] });
    expect(rig.view.cue?.name).toBe('prologue');
    rig.run(5, t => ({ 1: [Math.max(2, 8 - 1.4 * t), 6], 2: [2, 6] }));
    expect(rig.view.cue?.name).toBe('dark');
    expect(rig.eventsOf('cue')[0]).toMatchObject({ cue: 'dark', by: 'condition at-stove' });
    go(rig, 'storm');
    rig.run(1, BOTH);
    expect(rig.view.cue?.name).toBe('storm');
  });

  it('that was unknown before brings nothing on', () => {
    const rig = new Rig(FIRED).run(3, { 1: [8, 6], 2: [2, 6] });
    rig.run(4, TOBIAS);
    expect(rig.phase('ines')).toBe('safe');
    rig.run(4, BOTH);
    expect(rig.phase('ines')).toBe('live');
    expect(rig.view.cue?.name).toBe('prologue');
  });
});

test('on 500 fixtures it takes effect within one tick', () => {
  const names = Array.from({ length: 500 }, (_, i) => `f${i}`);
  const fixtures = names.map(
    (name, i) => `  ${name}: { profile: dimmer, universe: 1, address: ${i + 1} }`,
  );
  const rig =
    new Rig(`${SHOW.slice(0, SHOW.indexOf('fixtures:'))}groups: { all: [${names.join(', ')}] }
fixtures:
${fixtures.join('\n')}
cues: { dark: {}, bright: { fade: 0, base: { all: { Dimmer: 40 } } }, soft: { fade: 2, base: { all: { Dimmer: 100 } } } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`);
  rig.tick();
  go(rig, 'bright');
  expect(new Set(rig.tick().subarray(0, 500))).toEqual(new Set([102]));
  go(rig, 'soft');
  // 60 per cent in 80 ticks: nearly two steps of 255 in each.
  expect(new Set(rig.tick().subarray(0, 500))).toEqual(new Set([104]));
});

describe('a mapping between two looks that is off in the cue', () => {
  const LATER = SHOW.replace(
    'mappings:\n',
    'signals: { near: { distance: [tobias, [8, 2]], range: [5, 1] } }\nmappings:\n  - { name: later, by: near, fixtures: [sea, window], from: { Dimmer: 10 }, set: { Dimmer: 20 } }\n  - { name: warm, zone: stove, performers: [ines], fixtures: [sea, window], set: { Dimmer: 100 } }\n',
  )
    .replace(
      'sea: { profile: dimmer,',
      'sea: { base: { Dimmer: 80 }, safe: { Dimmer: 0 }, profile: dimmer,',
    )
    .replace('[stove, on-ines], fade: 2', '[warm], fade: 2')
    .replace('[harbour: 50, on-tobias]', '[later]')
    .replace('base: { sea: { Dimmer: 60 }, window: { aim: [2, 6, 0] } }', 'base: {}')
    .replace('safe: { sea: { Dimmer: 40 }, both: { Dimmer: 10 }, window: { aim: [5, 6, 0] } }', '');
  const started = () => new Rig(LATER).run(6, { 1: [2, 6], 2: [5, 5] });

  test.each([
    ['one is lost', { 2: [5, 5] }],
    ['everybody is lost', {}],
  ] as const)('keeps nothing from its safe value: %s', (_, places) => {
    const rig = started();
    expect(rig.level('sea')).toBeCloseTo(100, 0);
    rig.run(6, places);
    expect(rig.level('sea')).toBe(0);
    expect(rig.level('window')).toBeCloseTo(40, 0);
  });

  it('nor with everybody stopped', () => {
    const rig = started();
    rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
    rig.run(6, { 1: [2, 6], 2: [5, 5] });
    expect(rig.level('sea')).toBe(0);
  });

  test.each([
    ['the one of the next cue is lost', { 2: [5, 5] }],
    ['everybody is lost', {}],
  ] as const)('goes without a jump when the cue takes it away: %s', (_, places) => {
    const rig = started();
    go(rig, 'storm');
    rig.run(6, { 1: [2, 6], 2: [5, 5] });
    rig.run(6, places);
    go(rig, 'prologue');
    let last = rig.level('sea');
    rig.run(3, places, () => {
      // 80 per cent over 2 s is one a tick.
      expect(Math.abs(rig.level('sea') - last)).toBeLessThan(2.5);
      last = rig.level('sea');
    });
    expect(last).toBe(0);
  });
});
