import type { MappingPlan, Show } from '../show/model.js';
import type { Crossfade } from './crossfade.js';
import type { Engine } from './engine.js';
import type { Binding } from './map.js';
import { type Places, placesIn } from './take-over-places.js';
import { type SameSignals, sameSignals } from './take-over-same-signals.js';

/**
 * What of an engine is the same in the one that it takes over from. It rests on the two shows alone, and on nothing
 * that a tick changes: it is worked out ahead, so that little is left to do between two ticks.
 */
export interface Pairs {
  readonly performers: Places;
  readonly zones: Places;
  readonly fixtures: Places;
  readonly mappings: Places;
  readonly signals: SameSignals;
  /** For each of the next one's the old one. */
  readonly crossfades: readonly (Crossfade | undefined)[];
  readonly bindings: readonly (Binding | undefined)[];
}

export function pairsOf(next: Engine, old: Engine): Pairs {
  const parts = pairsInParts(next, old);
  for (;;) {
    const { done, value } = parts.next();
    if (done === true) return value;
  }
}

/** The same in steps, for whoever has something to do in between. */
export function* pairsInParts(next: Engine, old: Engine): Generator<undefined, Pairs> {
  const performers = placesIn(old.show.performers, next.show.performers);
  const zones = placesIn(old.show.zones, next.show.zones);
  const fixtures = placesIn(old.show.fixtures, next.show.fixtures);
  yield;
  const mappings = sameMappings(next.show, old.show);
  yield;
  const signals = sameSignals(next.show, old.show);
  yield;
  const crossfades = sameCrossfades(next, old, performers, mappings);
  const bindings = sameBindings(next, old, performers, mappings);
  yield;
  return { performers, zones, fixtures, mappings, signals, crossfades, bindings };
}

/** The same mapping: by its name, or by what drives what. */
function sameMappings(next: Show, old: Show): Places {
  const places = new Map<string, number[]>();
  old.mappings.forEach((mapping, index) => {
    const key = keyOf(mapping, old);
    const there = places.get(key);
    if (there === undefined) places.set(key, [index]);
    else there.push(index);
  });
  return next.mappings.map(mapping => places.get(keyOf(mapping, next))?.shift() ?? -1);
}

function keyOf(mapping: MappingPlan, { zones, performers, fixtures, signals }: Show): string {
  const lit = [...new Set(mapping.values.map(({ fixture }) => fixtures[fixture]?.name))];
  switch (mapping.kind) {
    case 'zone':
      return JSON.stringify([mapping.name, 'zone', zones[mapping.zone]?.name, lit]);
    case 'follow':
      return JSON.stringify([mapping.name, 'follow', performers[mapping.performer]?.name, lit]);
    case 'signal': {
      const condition = signals.conditions[mapping.when ?? -1]?.name;
      const by = [...new Set(mapping.by)].map(signal => signals.signals[signal]?.name);
      return JSON.stringify([mapping.name, 'signal', condition, by, lit]);
    }
  }
}

/** Of the same mapping, as the same performer drives it. */
function sameBindings(
  next: Engine,
  old: Engine,
  who: Places,
  mappings: Places,
): (Binding | undefined)[] {
  const company = old.show.performers.length;
  const before = new Map(old.mappings.bindings.map(one => [one.of * company + one.performer, one]));
  return next.mappings.bindings.map(({ of, performer }) => {
    const [mapping, place] = [mappings[of] as number, who[performer] as number];
    return mapping < 0 || place < 0 ? undefined : before.get(mapping * company + place);
  });
}

/** Of performers, and after them of mappings: see `Watched.believed`. */
function sameCrossfades(
  { crossfades, show }: Engine,
  old: Engine,
  who: Places,
  mappings: Places,
): (Crossfade | undefined)[] {
  const company = show.performers.length;
  const companyThen = old.show.performers.length;
  return crossfades.all.map(({ performer, fadeS }) => {
    const mapping = mappings[performer - company] ?? -1;
    const place = performer < company ? who[performer] : mapping < 0 ? -1 : companyThen + mapping;
    return old.crossfades.byBeliever[place ?? -1]?.mine.find(one => one.fadeS === fadeS);
  });
}
