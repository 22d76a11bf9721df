import { describe, expect, test } from 'vitest';
import { type SameSignals, sameSignals } from '../../../src/engine/take-over/same-signals.js';
import type { Show } from '../../../src/show/model/model.js';
import { showOf } from '../../show/show-of.js';
import { richHouse, richShow } from '../rich-house.js';

function same(next: Show, old: Show): SameSignals {
  const work = sameSignals(next, old);
  let done = work.next();
  while (!done.done) done = work.next();
  return done.value;
}

/** Those of the next show that are another one, by name. */
function others(next: Show, old: Show) {
  const { sources, whole, conditions } = same(next, old);
  const { signals } = next;
  const named = (all: readonly { readonly name: string }[], places: readonly number[]) =>
    all.flatMap(({ name }, at) => (places[at] === -1 ? [name] : [])).sort();
  return {
    sources: named(signals.signals, sources),
    whole: named(signals.signals, whole),
    conditions: named(signals.conditions, conditions),
  };
}

const MET = ['met', 'either', 'quiet', 'apart', 'full'];
const SEATED = ['seated', 'either', 'quiet', 'full'];

/** What is changed; signals and conditions that are others by it, also those that rest on them. */
const EDITS: readonly (readonly [
  from: string,
  to: string,
  signals: readonly string[],
  conditions: readonly string[],
])[] = [
  ['slot: [control, 1]', 'slot: [control, 2]', ['fader'], []],
  ['osc: { address: /sound/level }', 'osc: { address: /sound/low }', ['sound'], []],
  ['{ period: 3 }', '{ period: 4 }', ['swell', 'both-of', 'more'], []],
  ['distance: [ines, tobias]', 'distance: [ines, mara]', ['beside', 'for-long'], MET],
  ['distance: [ines, tobias]', 'distance: [gull, tobias]', ['beside', 'for-long'], MET],
  ['distance: [gull, table]', 'distance: [mara, table]', ['to-table'], []],
  ['distance: [gull, table]', 'distance: [gull, stove]', ['to-table'], []],
  ['distance: [mara, lantern]', 'distance: [mara, sea]', ['to-lamp', 'away'], []],
  ['along: { of: gull', 'along: { of: mara', ['line', 'lesser', 'more'], []],
  ['[[0, 0], [10, 8]]', '[[0, 0], [8, 8]]', ['line', 'lesser', 'more'], []],
  ['across: { of: ines', 'across: { of: tobias', ['side', 'sum-of'], []],
  ['zone: table, direction: 30', 'zone: stove, direction: 30', ['side', 'sum-of'], []],
  ['direction: 30', 'direction: 40', ['side', 'sum-of'], []],
  ['height: [ines, mara]', 'height: [ines, gull]', ['tall'], []],
  ['speed: company', 'speed: all-four', ['pace', 'lesser', 'more'], []],
  ['heading: { of: tobias', 'heading: { of: ines', ['way'], []],
  ['towards: seat', 'towards: table', ['way'], []],
  ['towards: seat', 'towards: mara', ['way'], []],
  ['time: met', 'time: seated', ['for-long'], []],
  ['zone: table, of: company', 'zone: stove, of: company', ['crowd'], ['full']],
  ['zone: table, of: company', 'zone: table, of: all-four', ['crowd'], ['full']],
  ['zone: seat, of: [tobias, mara]', 'zone: seat, of: [mara]', ['at-seat', 'both-of', 'more'], []],
  ['zone: seat, of: [tobias', 'zone: table, of: [tobias', ['at-seat', 'both-of', 'more'], []],
  ['sum: [side, 0.2]', 'sum: [side, 0.3]', ['sum-of'], []],
  ['sum: [side, 0.2]', 'sum: [line, 0.2]', ['sum-of'], []],
  ['sum: [side, 0.2]', 'product: [side, 0.2]', ['sum-of'], []],
  ['product: [at-seat, swell]', 'product: [crowd, swell]', ['both-of', 'more'], []],
  ['least: [line, pace, 0.8]', 'least: [pace, line, 0.8]', ['lesser', 'more'], []],
  ['least: [line, pace, 0.8]', 'greatest: [line, pace, 0.8]', ['lesser', 'more'], []],
  ['greatest: [lesser, both-of]', 'greatest: [both-of, lesser]', ['more'], []],
  ['inverse: to-lamp', 'inverse: to-table', ['away'], []],
  ['signal: beside, on: 0.6', 'signal: beside, on: 0.5', ['for-long'], MET],
  ['met: { signal: beside', 'met: { signal: more', ['for-long'], MET],
  ['in: seat, of: tobias', 'in: seat, of: mara', [], SEATED],
  ['in: seat, of: tobias', 'in: stove, of: tobias', [], SEATED],
  ['any: [met, seated]', 'any: [met]', [], ['either', 'quiet', 'full']],
  ['any: [met, seated]', 'all: [met, seated]', [], ['either', 'quiet', 'full']],
  ['not: either', 'not: seated', [], ['quiet', 'full']],
  ['apart: { not: met }', 'apart: { not: either }', [], ['apart']],
  ['all: [quiet, {', 'all: [apart, {', [], ['full']],
];

/** Those that conditions have of their own, without a name in the show. */
const isNamed = (name: string) => /^[a-z-]+$/.test(name);

describe('signals and conditions of a show that is changed', () => {
  test('are the same in the same show, whatever is put before them', () => {
    for (const [next, old] of [
      [false, false],
      [true, true],
      [false, true],
      [true, false],
    ]) {
      const isNew = next === true && old === false;
      expect(others(richShow(next), richShow(old))).toEqual({
        sources: isNew ? ['idle', 'unused'] : [],
        whole: isNew ? ['idle', 'unused'] : [],
        conditions: isNew ? ['never'] : [],
      });
    }
  });

  test('have the place of the one of their name', () => {
    const [next, old] = [richShow(true), richShow(false)];
    const { whole, conditions } = same(next, old);
    next.signals.signals.forEach(({ name }, at) => {
      const place = whole[at] as number;
      if (place >= 0) expect(old.signals.signals[place]?.name).toBe(name);
    });
    next.signals.conditions.forEach(({ name }, at) => {
      const place = conditions[at] as number;
      if (place >= 0) expect(old.signals.conditions[place]?.name).toBe(name);
    });
  });

  test.each(EDITS)(
    '%s becomes %s: so do those that rest on it, and no other',
    (from, to, signals, conditions) => {
      const text = richHouse();
      expect(text).toContain(from);
      const [old, next] = [showOf(text), showOf(text.replace(from, to))];
      for (const [a, b] of [
        [next, old],
        [old, next],
      ] as const) {
        const { sources, whole, conditions: tests } = others(a, b);
        expect(sources.filter(isNamed)).toEqual([...signals].sort());
        expect(whole.filter(isNamed)).toEqual([...signals].sort());
        expect(tests.filter(isNamed)).toEqual([...conditions].sort());
      }
    },
  );

  test.each([
    ['range: [5, 1], attack: 0.3', 'range: [5, 2], attack: 0.3', 'beside', MET],
    ['attack: 0.3', 'attack: 0.4', 'beside', MET],
    ['release: 1 }', 'release: 2 }', 'beside', MET],
    ['curve: smooth', 'curve: linear', 'to-lamp', []],
  ])('%s becomes %s: made of the same, it is another one', (from, to, signal, conditions) => {
    const next = showOf(richHouse().replace(from, to));
    const { sources, whole, conditions: tests } = others(next, richShow());
    expect(sources).not.toContain(signal);
    expect(whole).toContain(signal);
    expect(tests.filter(isNamed)).toEqual([...conditions].sort());
  });

  test('a condition of which only the times change is the same', () => {
    const next = showOf(richHouse().replace('hold: 0.5 }\n  seated', 'hold: 0.9 }\n  seated'));
    expect(next.signals.conditions.some(({ holdS }) => holdS === 0.9)).toBe(true);
    expect(others(next, richShow())).toEqual({ sources: [], whole: [], conditions: [] });
  });
});
