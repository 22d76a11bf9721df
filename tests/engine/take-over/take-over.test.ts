import { describe, expect, test } from 'vitest';
import { createEngine, type Engine } from '../../../src/engine/engine.js';
import { type Pairs, pairsOf } from '../../../src/engine/take-over/pairs.js';
import { rehearseInParts, takeOver } from '../../../src/engine/take-over/take-over.js';
import { viewOf } from '../../../src/engine/view.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { performersToArgs } from '../../../src/protocols/osc/orders.js';
import { demand } from '../../demand.js';
import { showOf } from '../../show/show-of.js';
import { Rig, TICK_HZ, UNIX_OFFSET_S } from '../harness.js';
import { moments, richHouse, richShow, tickWith } from '../rich-house.js';
import { HOUSE } from '../shows.js';

const STOVE = [2, 6] as const;
const WINDOW = [8, 7] as const;
const MIDDLE = [5, 3] as const;
const SHOW = `${HOUSE}operator: { port: 9011 }
exits:
  door: { polygon: [[-2, 6.5], [1.2, 6.5], [1.2, 8], [-2, 8]] }
`;
const AT_ONCE = `${SHOW}reload: 0\n`;

/** Cues between which lamps, a base and a safe value change, and whom a head follows; one that leaves it dark. */
const CUES = `
lampwright: 1
name: Cues
reload: 0
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
operator: { port: 9011 }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2, 7] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0.5 }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1, base: { Dimmer: 10 }, safe: { Dimmer: 20 } }
  sea: { profile: dimmer, universe: 1, address: 3 }
  head: { profile: moving-head, universe: 1, address: 21, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
mappings:
  - { name: stove, zone: stove, performers: [ines], fixtures: [glow], set: { Dimmer: 80 } }
  - { name: on-ines, follow: ines, fixtures: [head], set: { Dimmer: 75 } }
  - { name: on-tobias, follow: tobias, fixtures: [head], set: { Dimmer: 50 } }
cues:
  prologue: { mappings: [stove, on-ines], fade: 2 }
  storm: { mappings: [stove: 50, on-tobias], base: { sea: { Dimmer: 60 } }, safe: { sea: { Dimmer: 40 } }, fade: 4 }
  dark: { fade: 3, base: { glow: { Dimmer: 0 } } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

/** The rig goes on with an engine of another show. */
function reload(rig: Rig, yaml: string): void {
  goOn(rig, createEngine(showOf(yaml)));
}

/** @param pairs worked out before */
function goOn(rig: Rig, next: Engine, pairs?: Pairs): void {
  takeOver(next, rig.engine, pairs);
  Object.assign(rig, { engine: next, view: viewOf(next), show: next.show });
}

/** Walks about, falls silent for a while, is stopped and sent off; changes what is worn. */
function feed(rig: Rig, i: number): void {
  const t = i / TICK_HZ;
  const near = (x: number, y: number) => [x + 0.6 * Math.sin(t), y + 0.4 * Math.cos(1.3 * t)];
  const places: Record<string, number[]> = {};
  if (!(t > 7 && t < 12)) places[1] = t < 18 ? near(2.5, 6) : near(5, 3);
  if (!(t > 20)) places[t > 15 ? 7 : 2] = near(8, 6.5);
  for (const [id, [x = 0, y = 0]] of Object.entries(places)) {
    rig.send({
      address: `/tracker/${id}/position`,
      args: [x, y, 1.6].map(value => ({ type: 'f', value })),
    });
  }
  if (i === 14 * TICK_HZ) rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
  if (i === 15 * TICK_HZ)
    rig.order({ kind: 'assign', tracker: '7', performer: 'tobias', cause: 'command' });
  if (i === 16 * TICK_HZ) rig.order({ kind: 'resume', performer: 'tobias', cause: 'command' });
  if (i === 21 * TICK_HZ) rig.order({ kind: 'off', performer: 'tobias', cause: 'command' });
}

/** Where two states differ, as paths. */
function differences(a: unknown, b: unknown, path = '', seen = new Set<unknown>()): string[] {
  if (typeof a === 'function' || Object.is(a, b) || seen.has(a)) return [];
  if (typeof a !== 'object' || a === null || typeof b !== 'object' || b === null) return [path];
  seen.add(a);
  const there = entriesOf(b);
  return [...entriesOf(a)].flatMap(([key, one]) =>
    differences(one, there.get(key), path === '' ? key : `${path}.${key}`, seen),
  );
}

function entriesOf(value: object): Map<string, unknown> {
  const entries = value instanceof Map ? [...value] : Object.entries(value);
  return new Map(
    entries.map(([key, one], i) => [typeof key === 'string' ? key : String(i), one] as const),
  );
}

/** What a tick makes anew before it looks at it. */
const SCRATCH = new RegExp(
  `^(${[
    'shown',
    'aims\\.point',
    'choices\\.(pools\\.\\d+\\.assignment|all\\.\\d+\\.(forS|wanted))',
    'crossfades\\.(rest\\.|groups\\.\\d+\\.(looks|lowestIn|highestIn))',
    'cueAsks',
    'cues\\.moved',
    'falling',
    'ground\\.(changes|resting)',
    'lights\\.(scratch|onNobody)',
    'mappings\\.bindings\\.\\d+\\.(level|lane\\.masterLeast)',
    'mappings\\.drives\\.\\d+\\.(acts|rests|lanes\\.\\d+\\.masterLeast)',
    '(offStage\\.performers\\.\\d+\\.asked|orders\\.stageAsks)',
    'presences\\.(plan[XY]|near|nearby|entered)',
    // The fader's: what the desk said last is taken anew.
    'reception\\.numbers\\.heardS\\.3',
    'reception\\.(reader|received|routes\\.\\d+\\.cache)',
    'reloadFade',
    'signals\\.scene',
    'tracks\\.sighting',
    'wishes\\.merged',
  ].join('|')})\\b`,
);

describe('an engine that takes over from another one', () => {
  test('of the same show goes on as if nothing had been, to the byte, at any moment', () => {
    const spare = AT_ONCE.replace('zones:', 'spares: [7]\nzones:');
    const [plain, changed] = [new Rig(spare), new Rig(spare)];
    let next = createEngine(showOf(spare));
    let pairs = pairsOf(next, changed.engine);
    for (let i = 0; i < 26 * TICK_HZ; i++) {
      // In every phase of the losses, fades and returns; made ready before, while the old one goes on.
      if (i % 37 === 3) {
        goOn(changed, next, pairs);
        next = createEngine(showOf(spare));
        pairs = pairsOf(next, changed.engine);
      }
      for (const rig of [plain, changed]) {
        feed(rig, i);
        rig.tick();
      }
      const same = Buffer.from(plain.view.levels).equals(Buffer.from(changed.view.levels));
      if (!same) throw new Error(`another light at ${i / TICK_HZ} s`);
    }
    expect(changed.events).toEqual(plain.events);
    expect(new Set(plain.events.map(({ kind }) => kind)).size).toBeGreaterThan(5);
    expect(changed.view.counters).toEqual(plain.view.counters);
  });

  test('in the middle of a cue, too: its crossfade and its heads go on, to the byte', () => {
    const [plain, changed] = [new Rig(CUES), new Rig(CUES)];
    for (let i = 0; i < 24 * TICK_HZ; i++) {
      if (i % 13 === 3) reload(changed, CUES);
      for (const rig of [plain, changed]) {
        for (const [at, to] of [
          [3, 'storm'],
          [8, 'dark'],
          [13, 'prologue'],
          [14, 'storm'],
          [17, 'prologue'],
        ] as const) {
          if (i !== at * TICK_HZ) continue;
          rig.order({ kind: 'cue', to: { name: to }, cause: 'command', id: 1 });
        }
        feed(rig, i);
        rig.tick();
      }
      expect(changed.view.cue).toEqual(plain.view.cue);
      const same = Buffer.from(plain.view.levels).equals(Buffer.from(changed.view.levels));
      if (!same) throw new Error(`another light at ${i / TICK_HZ} s`);
    }
    expect(changed.eventsOf('cue')).toHaveLength(5);
  });

  test('forgets nothing that a stage remembers', () => {
    const rig = new Rig(AT_ONCE);
    for (let i = 0; i < 9 * TICK_HZ; i++) {
      feed(rig, i);
      rig.tick();
    }
    const next = createEngine(showOf(AT_ONCE));
    takeOver(next, rig.engine);
    expect(differences(rig.engine, next).filter(path => !SCRATCH.test(path))).toEqual([]);
  });

  test.each([1, 2])('forgets nothing of a house with nearly everything: seed %i', seed => {
    const rig = new Rig(richShow());
    let tick = 0;
    for (const moment of moments(20261130 + 7919 * seed, 560)) {
      tickWith(rig, moment);
      tick += 1;
      if (tick % 47 !== 0) continue;
      const next = createEngine(richShow());
      takeOver(next, rig.engine);
      const other = differences(rig.engine, next).filter(path => !SCRATCH.test(path));
      expect(other, `tick ${tick}`).toEqual([]);
    }
  });

  test('crossfades from what is out, over the time of its show, and never by way of the safe look', () => {
    const rig = new Rig(SHOW).run(8, { 1: STOVE, 2: WINDOW });
    const before = rig.level('stove-glow');
    expect(before).toBeCloseTo(85, 0);
    reload(rig, `${SHOW.replace('Dimmer: 85', 'Dimmer: 40')}reload: 4\n`);
    rig.tick();
    expect(rig.level('stove-glow')).toBeGreaterThan(before - 1);
    rig.run(2 - 1 / TICK_HZ, { 1: STOVE, 2: WINDOW });
    expect(rig.level('stove-glow')).toBeCloseTo(62.5, 0);
    rig.run(2.1, { 1: STOVE, 2: WINDOW });
    expect(rig.level('stove-glow')).toBeCloseTo(40, 0);
    expect(rig.eventsOf('performer').filter(({ atS }) => atS > 1008)).toEqual([]);
  });

  test('heads that follow go on, in another intensity and colour', () => {
    const walk = (t: number) => ({ 1: [3 + 0.8 * Math.sin(t), 5, 1.6] as const, 2: MIDDLE });
    const rig = new Rig(SHOW).run(8, walk);
    reload(rig, SHOW.replace('Dimmer: 75, ColorAdd_R: 50', 'Dimmer: 30, ColorAdd_R: 90'));
    let last = rig.level('head');
    rig.run(
      3,
      t => walk(8 + t),
      () => {
        const { x, y, z } = rig.view.performers[0]?.estimate ?? { x: 0, y: 0, z: 0 };
        expect(rig.beamMisses('head', [x, y, z])).toBeLessThan(0.25);
        const level = rig.level('head');
        expect(Math.abs(level - last)).toBeLessThan(45 / 2 / TICK_HZ + 0.1);
        expect(level).toBeGreaterThan(29);
        last = level;
      },
    );
    expect(rig.level('head')).toBeCloseTo(30, 1);
    expect(rig.level('head', 'ColorAdd_R')).toBeCloseTo(90, 0);
  });

  test('heads whose aim changes go there in the dark', () => {
    const other = SHOW.replace(
      '{ follow: ines, fixtures: [head]',
      '{ follow: tobias, fixtures: [head]',
    )
      .replace(
        '{ follow: tobias, fixtures: [lit-head], set: { Dimmer: 60 }, fade: { in: 1, out: 1.5 } }',
        '{ zone: stove, fixtures: [stove-glow], set: { Dimmer: 85 } }',
      )
      .replace('base: { aim: [5, 4, 0] } }', 'base: { aim: [1, 7, 0] } }');
    const rig = new Rig(SHOW).run(8, { 1: MIDDLE, 2: [5, 7] });
    const heads = ['head', 'lit-head', 'zone-head'];
    const last = new Map(
      heads.map(name => [name, [rig.level(name, 'Pan'), rig.level(name, 'Tilt')]]),
    );
    const seen = new Set<string>();
    reload(rig, other);
    rig.run(8, { 1: MIDDLE, 2: [5, 7] }, () => {
      for (const name of heads) {
        const now = [rig.level(name, 'Pan'), rig.level(name, 'Tilt')];
        const [pan = 0, tilt = 0] = last.get(name) ?? [];
        // Half a degree a tick is more than noise, and less than any move.
        const moves = Math.abs((now[0] ?? 0) - pan) > 0.5 || Math.abs((now[1] ?? 0) - tilt) > 0.5;
        if (moves) {
          seen.add(name);
          expect(rig.level(name), name).toBeLessThan(0.5);
        }
        last.set(name, now);
      }
    });
    expect([...seen].sort()).toEqual(['head', 'lit-head', 'zone-head']);
    expect(rig.beamMisses('head', [5, 7, 1.6])).toBeLessThan(0.2);
    expect(rig.level('head')).toBeCloseTo(75, 0);
  });

  test('a loss in mid-crossfade is at its safe values when it was promised', () => {
    const bright = `${SHOW.replace('Dimmer: 85', 'Dimmer: 10')}reload: 60\n`;
    const rig = new Rig(SHOW).run(8, { 1: STOVE, 2: WINDOW });
    reload(rig, bright);
    rig.run(1, { 1: STOVE, 2: WINDOW }).run(0.6, { 2: WINDOW });
    expect(rig.phase('ines')).toBe('losing');
    // Fade 2 s.
    rig.run(2.1, { 2: WINDOW });
    // The lit safe value of the glow is 20, and 8 is its base.
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
    expect(rig.level('head')).toBe(0);
    rig.run(2, { 2: WINDOW });
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  });

  const ZONE =
    '  - { zone: stove, fixtures: [stove-glow], set: { Dimmer: 85 }, fade: { in: 0.5, out: 1 } }\n';
  const TOBIAS = ZONE.replace('fixtures', 'performers: [tobias], fixtures');
  const WHEN = ZONE.replace('zone: stove', 'when: hot');
  test.each([
    ['zone mapping is taken away', ZONE, ''],
    ['zone mapping is another performer’s now', ZONE, TOBIAS],
    ['mapping by a condition is taken away', WHEN, ''],
    ['mapping by a condition is another performer’s now', WHEN, TOBIAS],
  ])('a lamp whose %s goes down no slower than whoever drove it is lost', (_, then, now) => {
    const house = `${SHOW}conditions: { hot: { in: stove, of: [ines] } }\n`;
    const withMapping = (mapping: string) => house.replace(ZONE, mapping);
    // Before, and in the middle of, the loss of Ines, of 0.5 s and a fade of 2 s.
    for (const silentS of [-1, 0.2, 1.5]) {
      const [stays, rig] = [0, 1].map(() =>
        new Rig(withMapping(then)).run(6, { 1: STOVE, 2: WINDOW }),
      ) as [Rig, Rig];
      const both = [stays, rig];
      expect(stays.level('stove-glow')).toBeCloseTo(85, 0);
      for (const one of both) one.run(Math.max(0, silentS), { 2: WINDOW });
      reload(rig, `${withMapping(now)}reload: 60\n`);
      for (const one of both) one.run(Math.max(0, -silentS), { 1: STOVE, 2: WINDOW });
      for (let tick = 0; tick < 3 * TICK_HZ; tick++) {
        for (const one of both) one.run(1 / TICK_HZ, { 2: WINDOW });
        const [may, is] = both.map(one => one.level('stove-glow')) as [number, number];
        demand(
          is <= may + 0.6,
          () => `${silentS} s, tick ${tick}: ${is}, without the reload ${may}`,
        );
      }
    }
  });

  test('a lit head whose safe aim changes while it is at it moves in the dark', () => {
    const rig = new Rig(SHOW).run(8, { 1: STOVE, 2: WINDOW }).run(8, { 1: STOVE });
    expect(rig.level('lit-head')).toBeCloseTo(40, 0);
    reload(
      rig,
      SHOW.replace('safe: { aim: [5, 4, 0], Dimmer: 40 }', 'safe: { aim: [2, 2, 0], Dimmer: 20 }'),
    );
    let last = rig.level('lit-head', 'Pan');
    rig.run(8, { 1: STOVE }, () => {
      const pan = rig.level('lit-head', 'Pan');
      if (Math.abs(pan - last) > 0.2) expect(rig.level('lit-head')).toBeLessThan(0.5);
      last = pan;
    });
    expect(rig.level('lit-head')).toBeCloseTo(20, 0);
    expect(rig.beamMisses('lit-head', [2, 2, 0])).toBeLessThan(0.1);
  });

  test('a head that is still coming up on somebody goes to another one in the dark', () => {
    const places = { 1: MIDDLE, 2: [5, 7] } as const;
    const rig = new Rig(SHOW);
    while (!(rig.level('head') > 20)) rig.run(1 / TICK_HZ, places);
    expect(rig.level('head')).toBeLessThan(40);
    reload(
      rig,
      SHOW.replace(
        '{ follow: ines, fixtures: [head]',
        '{ follow: tobias, fixtures: [head]',
      ).replace('{ follow: tobias, fixtures: [lit-head]', '{ follow: ines, fixtures: [lit-head]'),
    );
    let wasDark = false;
    rig.run(8, places, () => {
      const isLit = rig.level('head') > 0.5;
      wasDark ||= !isLit;
      const [x, y] = wasDark ? places[2] : places[1];
      if (isLit) demand(rig.beamMisses('head', [x, y, 1.6]) < 0.3, () => 'lit beside them');
    });
    expect(wasDark).toBe(true);
    expect(rig.level('head')).toBeCloseTo(75, 0);
  });

  test('a lit head that nobody drives goes out, over and up to what it has now, without a step', () => {
    const idle = (base: string) =>
      `${SHOW.replace('fixtures:\n', `fixtures:\n  idle: { profile: moving-head, universe: 1, address: 400, position: [8, 1, 5], base: ${base} }\n`)}reload: 1\n`;
    const rig = new Rig(idle('{ aim: [8, 6, 0], Dimmer: 50 }')).run(4, { 1: STOVE, 2: WINDOW });
    expect(rig.level('idle')).toBeCloseTo(50, 0);
    reload(rig, idle('{ aim: [5, 6, 0], Dimmer: 80 }'));
    const seen: number[] = [];
    let last = 50;
    rig.run(6, { 1: STOVE, 2: WINDOW }, () => {
      const now = rig.level('idle');
      const aim = rig.beamMisses('idle', seen.includes(0) ? [5, 6, 0] : [8, 6, 0]);
      demand(now === 0 || aim < 0.1, () => `lit ${aim} m beside its aim`);
      seen.push(now);
      demand(Math.abs(now - last) < 6, () => `from ${last} to ${now} in one tick`);
      last = now;
    });
    const dark = seen.indexOf(0);
    expect(dark).toBeGreaterThan(10);
    const [out, up] = [seen.slice(0, dark), seen.slice(dark)];
    expect(out).toEqual(out.toSorted((a, b) => b - a));
    expect(up).toEqual(up.toSorted((a, b) => a - b));
    expect(last).toBeCloseTo(80, 0);
  });

  test('takes over what is held for its time tag, of who is still there', () => {
    const rig = new Rig(AT_ONCE).run(4, { 1: STOVE, 2: WINDOW });
    const held = (id: string, [x, y]: readonly [number, number]) => ({
      address: `/tracker/${id}/position`,
      args: [x, y, 1.6].map(value => ({ type: 'f', value }) as const),
    });
    const timeTag = rig.nowS + UNIX_OFFSET_S + 0.5;
    rig.send({ timeTag, elements: [held('1', [2.3, 6]), held('2', [8.3, 7])] });
    rig.tick();
    expect(rig.engine.reception.held).toHaveLength(2);
    const alone = AT_ONCE.replace('tobias: { trackers: [2]', 'tobias: { trackers: [22]');
    expect(alone).not.toBe(AT_ONCE);
    reload(rig, alone);
    expect(rig.engine.reception.held.map(({ tracker }) => tracker.id)).toEqual(['1']);
    const before = rig.view.counters.positions;
    rig.run(0.4);
    expect(rig.view.counters.positions).toBe(before);
    rig.run(0.2);
    expect(rig.engine.reception.held).toEqual([]);
    expect(rig.view.performers[0]?.estimate.x).toBeGreaterThan(2.05);
  });

  test('takes over stops, who is off stage, and what was asked and not yet done', () => {
    const rig = new Rig(SHOW).run(8, { 1: STOVE, 2: WINDOW });
    rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
    rig.tick();
    rig.receive(
      encodePacket({ address: '/lampwright/off', args: [{ type: 's', value: 'ines' }] }),
      rig.nowS,
      1,
    );
    rig.tick();
    const more = SHOW.replace('performers:', 'performers:\n  gull: { trackers: [3] }');
    reload(rig, more);
    rig.run(6, { 1: STOVE, 2: WINDOW, 3: MIDDLE });
    expect(['gull', 'ines', 'tobias'].map(name => rig.phase(name))).toEqual([
      'live',
      'off',
      'safe',
    ]);
    expect(rig.eventsOf('stopped')).toHaveLength(1);
    rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
    rig.order({ kind: 'on', performer: 'ines', cause: 'command' });
    rig.run(6, { 1: STOVE, 2: WINDOW, 3: MIDDLE });
    expect(['gull', 'ines', 'tobias'].map(name => rig.phase(name))).toEqual([
      'live',
      'live',
      'live',
    ]);
  });

  test('of stops and of who is off stage it still knows what the main machine of two has told', () => {
    const rig = new Rig(SHOW).run(8, { 1: STOVE, 2: WINDOW });
    const told = (stopped: boolean, stage: 'on' | 'leaving') => {
      const args = performersToArgs({
        teller: 'main',
        everybody: stopped,
        performers: [
          { name: 'ines', stopped: false, stage },
          { name: 'tobias', stopped, stage: 'on' },
        ],
      });
      rig.receive(encodePacket({ address: '/lampwright/performers', args }), rig.nowS, 1);
      rig.tick();
    };
    told(true, 'leaving');
    rig.run(1, { 1: STOVE, 2: WINDOW });
    expect(rig.view.allStopped).toBe(true);
    reload(rig, SHOW.replace('performers:', 'performers:\n  gull: { trackers: [3] }'));
    rig.run(6, { 1: STOVE, 2: WINDOW, 3: MIDDLE });
    // Who is new is stopped with everybody, and has had no light yet.
    expect(rig.phase('gull')).toBe('waiting');
    expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['off', 'safe']);
    // The main machine takes all of it back, and has the new show by now.
    told(false, 'on');
    const args = performersToArgs({
      teller: 'main',
      everybody: false,
      performers: [{ name: 'gull', stopped: false, stage: 'on' }],
    });
    rig.receive(encodePacket({ address: '/lampwright/performers', args }), rig.nowS, 1);
    rig.run(6, { 1: STOVE, 2: WINDOW, 3: MIDDLE });
    expect(rig.view.allStopped).toBe(false);
    expect(['gull', 'ines', 'tobias'].map(name => rig.phase(name))).toEqual([
      'live',
      'live',
      'live',
    ]);
  });
});

test('a rehearsal leaves the engine that runs as it is, and has room for ticks between its parts', () => {
  // In half a second from the old light to the new one.
  const show = showOf(richHouse().replace('reload: 0', 'reload: 0.5'));
  const [rig, alone] = [new Rig(show), new Rig(show)];
  let tick = 0;
  let parts = 0;
  let rehearsal: Iterator<undefined, void> | undefined;
  for (const moment of moments(20261201, 300)) {
    if (tick === 100) {
      const other = createEngine(show);
      rehearsal = rehearseInParts(other, rig.engine, pairsOf(other, rig.engine));
    }
    if (rehearsal?.next().done === false) parts += 1;
    const [is, would] = [tickWith(rig, moment), tickWith(alone, moment)];
    demand(Buffer.compare(is, would) === 0, () => `tick ${tick} is another one`);
    tick += 1;
  }
  expect(rig.events).toEqual(alone.events);
  // Some three times to get it compiled, and then the fade of each section.
  expect(parts).toBeGreaterThan(9);
  expect(parts).toBeLessThan(40);
  expect(rehearsal?.next().done).toBe(true);
});

test('light that a reload takes the mapping from fades as long as the reload, though one of two was not tracked', () => {
  const [show, without] = [
    '  - { by: at-stove, fixtures: [sea], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }\n',
    '',
  ].map(mapping =>
    CUES.replace(/cues:[\s\S]*outputs:/, 'outputs:')
      .replace(
        '  - { name: on-tobias, follow: tobias, fixtures: [head], set: { Dimmer: 50 } }\n',
        '',
      )
      .replace('reload: 0', 'reload: 2')
      .replace('mappings:\n', `mappings:\n${mapping}`)
      .replace(
        'fixtures:\n',
        'signals: { at-stove: { presence: { zone: stove, of: [ines, tobias] } } }\nfixtures:\n',
      ),
  ) as [string, string];
  for (const isLost of [false, true]) {
    // Whether anybody is there is known without Tobias, who has never been heard.
    const rig = new Rig(show).run(4, { 1: STOVE });
    expect(rig.level('sea')).toBeCloseTo(80, 0);
    reload(rig, without);
    if (isLost) rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
    rig.run(1, { 1: STOVE });
    if (isLost) expect(rig.level('sea')).toBe(0);
    else expect(rig.level('sea')).toBeCloseTo(40, -0.5);
    rig.run(1.1, { 1: STOVE });
    expect(rig.level('sea')).toBe(0);
  }
});
