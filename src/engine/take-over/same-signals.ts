import type { Show } from '../../show/model/model.js';
import type { ConditionTest, Operand, PlacePlan, SignalSource } from '../../signals/plan.js';
import { type Places, placesIn } from '../values/places.js';

/** For each one of the new show the place of the same one in the old show; -1: there is none. */
export interface SameSignals {
  /** For signals: they have the same inputs, whatever is computed from them; and everything is the same. */
  readonly sources: Places;
  readonly whole: Places;
  /** For conditions: they test the same, whatever their times. */
  readonly conditions: Places;
}

export function* sameSignals(next: Show, old: Show): Generator<undefined, SameSignals> {
  const ids: Ids = new Map();
  const now = yield* keysOf(next, ids);
  const then = yield* keysOf(old, ids);
  const signals = placesIn(old.signals.signals, next.signals.signals);
  const conditions = placesIn(old.signals.conditions, next.signals.conditions);
  return {
    sources: only(signals, now.sources, then.sources),
    whole: only(signals, now.signals, then.signals),
    conditions: only(conditions, now.conditions, then.conditions),
  };
}

function only(places: Places, now: readonly number[], then: readonly number[]): Places {
  return places.map((place, at) => (then[place] === now[at] ? place : -1));
}

/** The same things get the same number: keys nested in keys would grow with each level. */
type Ids = Map<string, number>;

function idOf(ids: Ids, value: unknown): number {
  const key = JSON.stringify(value);
  const id = ids.get(key) ?? ids.size;
  ids.set(key, id);
  return id;
}

interface Keys {
  readonly sources: readonly number[];
  readonly signals: readonly number[];
  readonly conditions: readonly number[];
}

const KEYS_IN_A_PART = 60;

/** For each signal and condition everything that defines it, with names where the plans have indices. */
function* keysOf(
  { signals: set, performers, zones, desk }: Show,
  ids: Ids,
): Generator<undefined, Keys> {
  const sources: number[] = [];
  const signals: number[] = [];
  const conditions: number[] = [];
  const who = (all: readonly number[]) => all.map(index => performers[index]?.name);
  const where = (index: number) => zones[index]?.name;
  const place = (one: PlacePlan) => {
    if (one.kind === 'performers') return [who(one.performers)];
    return one.kind === 'zone' ? [where(one.zone)] : one;
  };
  const operand = (one: Operand) =>
    one.kind === 'number' ? one : { kind: 'signal', signal: signals[one.signal] };
  const source = (one: SignalSource): unknown => {
    switch (one.kind) {
      case 'presence':
      case 'count':
        return { ...one, zone: where(one.zone), performers: who(one.performers) };
      case 'distance':
        return { ...one, performers: who(one.performers), to: place(one.to) };
      case 'along':
        return { ...one, performer: who([one.performer]) };
      case 'across':
        return { ...one, performer: who([one.performer]), zone: where(one.zone) };
      case 'height':
      case 'speed':
        return { ...one, performers: who(one.performers) };
      case 'heading': {
        const { towards } = one;
        const to = towards.kind === 'direction' ? towards : place(towards);
        return { ...one, performer: who([one.performer]), towards: to };
      }
      case 'time':
        return { ...one, condition: conditions[one.condition] };
      case 'product':
      case 'sum':
      case 'least':
      case 'greatest':
        return { ...one, of: one.of.map(operand) };
      case 'inverse':
        return { ...one, signal: signals[one.signal] };
      case 'slot':
        return { ...one, desk: desk[one.desk]?.name };
      case 'osc':
      case 'wave':
        return one;
    }
  };
  const test = (one: ConditionTest): unknown => {
    switch (one.kind) {
      case 'threshold':
        return { ...one, signal: signals[one.signal] };
      case 'all':
      case 'any':
        return { ...one, of: one.of.map(index => conditions[index]) };
      case 'not':
        return { ...one, condition: conditions[one.condition] };
    }
  };
  for (const [at, { kind, index }] of set.order.entries()) {
    if (at % KEYS_IN_A_PART === KEYS_IN_A_PART - 1) yield;
    const [signal, condition] = [set.signals[index], set.conditions[index]];
    if (kind === 'signal' && signal !== undefined) {
      const key = idOf(ids, source(signal.source));
      sources[index] = key;
      signals[index] = idOf(ids, { ...signal, name: '', source: key, range: signal.range ?? 0 });
    } else if (condition !== undefined) conditions[index] = idOf(ids, test(condition.test));
  }
  return { sources, signals, conditions };
}
