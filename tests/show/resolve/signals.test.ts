import { describe, expect, test } from 'vitest';
import { basisOf } from '../../../src/show/model/basis.js';
import type { Show, SignalMappingPlan } from '../../../src/show/model/model.js';
import { parseShow } from '../../../src/show/parse.js';
import type { SignalPlan } from '../../../src/signals/plan.js';
import { changed } from '../base.js';
import { SIGNALS } from '../signal-cases.js';

function showOf(text: string): Show {
  const result = parseShow(text, 'a.show.yaml');
  if (!result.ok) throw new Error(result.problems.map(({ message }) => message).join('\n'));
  return result.show;
}

const show = showOf(SIGNALS);
const { signals, conditions, order } = show.signals;
const named = (name: string) => signals.find(one => one.name === name) as SignalPlan;
const driven = (index: number, of = show) => of.mappings[index] as SignalMappingPlan;

describe('signals', () => {
  test('each stands after all that it is made of', () => {
    const done = new Set<string>();
    for (const { kind, index } of order) {
      const needs = kind === 'signal' ? needsOfSignal(index) : needsOfCondition(index);
      for (const need of needs) expect(done).toContain(need);
      done.add(`${kind} ${index}`);
    }
    expect(done.size).toBe(signals.length + conditions.length);
  });

  test('degrees become radians, in thresholds as well', () => {
    expect(named('away')).toMatchObject({ unit: 'radians', least: 0 });
    expect(named('away').greatest).toBeCloseTo(Math.PI, 12);
    expect(named('away').source).toMatchObject({ kind: 'heading', performer: 1 });
    const leaving = conditions.find(({ name }) => name === 'leaving');
    expect(leaving?.test).toMatchObject({ direction: 'below', on: Math.PI / 4 });
    expect(leaving?.test).toMatchObject({ off: Math.PI / 3 });
    expect(leaving).toMatchObject({ forS: 1, holdS: 0 });
  });

  test('what comes out of a range is a share, no more than its source can give', () => {
    expect(named('to-lantern')).toMatchObject({
      unit: 'share',
      range: { from: 6, to: 1 },
      least: 0,
      greatest: 1,
    });
    const narrow = showOf(
      changed('range: [0, 10] }\n  fader', 'range: [-10, 10], curve: square }\n  fader', SIGNALS),
    );
    const since = narrow.signals.signals.find(({ name }) => name === 'since');
    expect(since).toMatchObject({ least: 0.25, greatest: 1 });
  });
});

describe('a signal along the fixtures', () => {
  test('is one for each of them, a third of a period apart', () => {
    const cells = (driven(2).by ?? []).map(index => signals[index] as SignalPlan);
    expect(cells.map(({ name }) => name)).toEqual(['glow/c1', 'glow/c2', 'glow/c3']);
    const waves = cells.map(({ source }) => {
      if (source.kind !== 'product') throw new Error(source.kind);
      const operand = source.of[1];
      const wave = operand?.kind === 'signal' ? signals[operand.signal]?.source : undefined;
      return wave?.kind === 'wave' ? wave.phase : Number.NaN;
    });
    expect(waves[0]).toBe(0);
    expect(waves[1]).toBeCloseTo(2 / 3, 12);
    expect(waves[2]).toBeCloseTo(1 / 3, 12);
    // What is the same for all is there once.
    expect(signals.filter(({ name }) => name === 'to-lantern')).toHaveLength(1);
  });

  test('measures to each of them', () => {
    const points = (driven(3).by ?? []).map(index => {
      const source = signals[index]?.source;
      return source?.kind === 'distance' ? source.to : undefined;
    });
    expect(points).toEqual([1, 2, 3].map(x => ({ kind: 'point', x, y: 1 })));
  });
});

test('a point of the palette is a place on the plan, and its name is second to that of a zone', () => {
  const text = (name: string) =>
    changed(
      'signals:\n',
      `palettes: { points: { ${name}: { label: The chair, at: [7, 2, 0.5] } } }
signals:
  near: { distance: [ines, ${name}], range: [2, 0] }
  turned: { heading: { of: ines, towards: ${name} } }
`,
      SIGNALS,
    );
  const sources = (name: string) =>
    ['near', 'turned'].map(
      signal => showOf(text(name)).signals.signals.find(one => one.name === signal)?.source,
    );
  const point = { kind: 'point', x: 7, y: 2 };
  expect(sources('chair')).toEqual([
    { kind: 'distance', performers: [0], to: point },
    { kind: 'heading', performer: 0, towards: point },
  ]);
  expect(sources('stove')).toMatchObject([
    { to: { kind: 'zone', zone: 0 } },
    { towards: { kind: 'zone', zone: 0 } },
  ]);
});

describe('mappings', () => {
  test('a group stands for its members, each once and in order', () => {
    const twice = showOf(
      changed(
        'fixtures: [cells], set: { Dimmer: 60 }',
        'fixtures: [c2, cells], set: { Dimmer: 60 }',
        SIGNALS,
      ),
    );
    expect(driven(2, twice).fixtures).toEqual([1, 0, 2]);
    expect(show.mappings[0]).toMatchObject({ kind: 'zone', performers: [0, 1, 2] });
  });

  test('in a zone that moves with somebody it is the others who count', () => {
    const { by, ...mapping } = driven(1);
    expect(mapping).toMatchObject({ kind: 'signal', when: undefined, mix: 'usual', priority: 0 });
    const source = signals[by?.[0] ?? -1]?.source;
    expect(source).toMatchObject({ kind: 'presence', zone: 1, performers: [1, 2], every: false });
    expect(show.zones[1]).toMatchObject({ around: 0, area: { shape: { centre: { x: 0, y: 0 } } } });
    // And whom it moves with is one of those on whom it rests.
    expect([...basisOf(show, driven(1)).performers].sort()).toEqual([0, 1, 2]);
  });

  test('a condition may stand where it is used', () => {
    const when = conditions[driven(5).when ?? -1];
    expect(when).toMatchObject({ name: 'mappings[5].when', holdS: 5, test: { on: 0.5, off: 0.5 } });
    expect(driven(5).priority).toBe(2);
    expect([...basisOf(show, driven(6)).performers].sort()).toEqual([0, 1, 2]);
  });

  test('a zone mapping with a condition, and a follow mapping with one', () => {
    const text = changed(
      '  - { zone: near-ines',
      '  - { zone: stove, performers: [tobias], curve: switch, when: two, fixtures: [cyc], set: { Dimmer: 9 } }\n  - { follow: ines, when: two, fixtures: [head], set: { Dimmer: 80 } }\n  - { zone: near-ines',
      changed(
        '  cyc:',
        '  head: { profile: moving-head, universe: 1, address: 31, position: [3, 1, 5] }\n  cyc:',
        SIGNALS,
      ),
    );
    const both = showOf(text);
    expect(both.mappings[1]).toMatchObject({ kind: 'signal', when: 0 });
    const by = driven(1, both).by?.[0] ?? -1;
    expect(both.signals.signals[by]).toMatchObject({
      source: { kind: 'presence', zone: 0, performers: [1] },
      curve: 'switch',
    });
    expect(both.mappings[2]).toMatchObject({ kind: 'follow', performer: 0, when: 0 });
  });

  test('what a show of today says is as it was', () => {
    const today = changed(
      '  - { by: glow, fixtures: [cells], set: { Dimmer: 60 }, mix: highest }\n',
      '',
      SIGNALS,
    );
    expect(showOf(today).mappings[0]).toMatchObject({ kind: 'zone', zone: 0, curve: 'linear' });
  });
});

function needsOfSignal(index: number): string[] {
  const source = signals[index]?.source;
  if (source?.kind === 'time') return [`condition ${source.condition}`];
  if (source?.kind === 'inverse') return [`signal ${source.signal}`];
  if (source === undefined || !('of' in source)) return [];
  return source.of.flatMap(one => (one.kind === 'signal' ? [`signal ${one.signal}`] : []));
}

function needsOfCondition(index: number): string[] {
  const test = conditions[index]?.test;
  if (test?.kind === 'threshold') return [`signal ${test.signal}`];
  if (test?.kind === 'not') return [`condition ${test.condition}`];
  return (test?.of ?? []).map(one => `condition ${one}`);
}
