import type { Show } from '../show/model.js';
import type { ConditionTest, Operand, PlacePlan, SignalSource } from '../signals/plan.js';
import type { Engine } from './engine.js';
import { type Places, placesIn, takeRows } from './take-over-places.js';

/**
 * What signals and conditions were, and the numbers that came in for them. What is kept is in the unit of what it was
 * kept of: it goes on only where that is the same, down to all that it is made of. Another begins as at a start.
 */
export function takeSignals(next: Engine, old: Engine): void {
  const { network } = next.signals;
  const was = old.signals.network;
  next.signals.beganS = old.signals.beganS;
  const ids: Ids = new Map();
  const [now, then] = [keysOf(next.show, ids), keysOf(old.show, ids)];
  const signals = placesIn(was.set.signals, network.set.signals);
  const sources = only(signals, now.sources, then.sources);
  const whole = only(signals, now.signals, then.signals);
  const { raw, out, kept, keptS, begins, doubts } = network;
  takeRows({ raw, keptS }, { ...was }, sources);
  takeRows({ out, kept, begins, doubts }, { ...was }, whole);
  whole.forEach((place, at) => {
    if (place < 0) begins[at] = 1;
  });
  takeRows({ ...next.reception.numbers }, { ...old.reception.numbers }, sources);
  for (const one of next.signals.heard) {
    const place = sources[one.at] as number;
    const same = old.signals.heard.find(({ at }) => at === place);
    one.saidSilent = same?.saidSilent ?? false;
  }
  const conditions = sameConditions(next.show, old.show);
  takeRows({ ...network.conditions }, { ...was.conditions }, conditions);
  // One that is held goes on being so, by the time that it has now.
  const { held, plans } = network.conditions;
  plans.forEach(({ holdS }, at) => {
    held.surely[at] = Math.min(held.surely[at] as number, holdS);
    held.possibly[at] = Math.min(held.possibly[at] as number, holdS);
  });
}

/** For each condition its place in the old show, where it tests the same, whatever its times; -1 for another. */
export function sameConditions(next: Show, old: Show): Places {
  const ids: Ids = new Map();
  const conditions = placesIn(old.signals.conditions, next.signals.conditions);
  return only(conditions, keysOf(next, ids).conditions, keysOf(old, ids).conditions);
}

function only(places: Places, now: readonly number[], then: readonly number[]): Places {
  return places.map((place, at) => (then[place] === now[at] ? place : -1));
}

/** What is the same has the same number: a key within a key grows with each level. */
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

/** Of each signal and condition all that decides what it is, with names where the plans have indices. */
function keysOf({ signals: set, performers, zones }: Show, ids: Ids): Keys {
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
  for (const { kind, index } of set.order) {
    const [signal, condition] = [set.signals[index], set.conditions[index]];
    if (kind === 'signal' && signal !== undefined) {
      const key = idOf(ids, source(signal.source));
      sources[index] = key;
      signals[index] = idOf(ids, { ...signal, name: '', source: key, range: signal.range ?? 0 });
    } else if (condition !== undefined) conditions[index] = idOf(ids, test(condition.test));
  }
  return { sources, signals, conditions };
}
