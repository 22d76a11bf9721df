import type { MappingPlan, Show } from '../../show/model/model.js';
import { mapInParts, whole } from '../../stage/in-parts.js';
import type { Engine } from '../engine.js';
import type { Crossfade } from '../light/crossfade.js';
import type { Drive } from '../light/lanes.js';
import type { Binding, Layer } from '../light/layers.js';
import { type Places, placesIn } from '../values/places.js';
import { type SameSignals, sameSignals } from './same-signals.js';

/**
 * What is the same in a new engine and the one it takes over from. This depends only on the two shows, not on
 * anything a tick changes, so it is worked out ahead: little is left to do between two ticks.
 */
export interface Pairs {
  readonly performers: Places;
  readonly zones: Places;
  readonly fixtures: Places;
  readonly mappings: Places;
  readonly signals: SameSignals;
  /** For each one of the new engine, the same one in the old engine. */
  readonly crossfades: readonly (Crossfade | undefined)[];
  readonly bindings: readonly (Binding | undefined)[];
  readonly drives: ReadonlyMap<Drive, Drive>;
  /** For each layer of the old engine, the new one with the same owner on the same light. */
  readonly layers: ReadonlyMap<Layer, Layer>;
}

export function pairsOf(next: Engine, old: Engine): Pairs {
  return whole(pairsInParts(next, old));
}

/** The same in steps, so that the caller can do other work in between. */
export function* pairsInParts(next: Engine, old: Engine): Generator<undefined, Pairs> {
  const performers = placesIn(old.show.performers, next.show.performers);
  const zones = placesIn(old.show.zones, next.show.zones);
  const fixtures = placesIn(old.show.fixtures, next.show.fixtures);
  yield;
  const mappings = yield* sameMappings(next.show, old.show);
  yield;
  const signals = yield* sameSignals(next.show, old.show);
  yield;
  const crossfades = sameCrossfades(next, old, performers, mappings);
  yield;
  const bindings = sameBindings(next, old, performers, mappings);
  yield;
  const drives = sameDrives(next, old, mappings);
  yield;
  const layers = sameLayers(next, old, { bindings, drives, fixtures });
  yield;
  return { performers, zones, fixtures, mappings, signals, crossfades, bindings, drives, layers };
}

/** The same mapping: by its name, or by what drives what. */
function* sameMappings(next: Show, old: Show): Generator<undefined, Places> {
  const before = yield* mapInParts(
    old.mappings,
    mapping => keyOf(mapping, old),
    MAPPINGS_IN_A_PART,
  );
  const places = new Map<string, number[]>();
  for (const [index, key] of before.entries()) {
    const there = places.get(key);
    if (there === undefined) places.set(key, [index]);
    else there.push(index);
  }
  const placeOf = (mapping: MappingPlan) => places.get(keyOf(mapping, next))?.shift() ?? -1;
  return yield* mapInParts(next.mappings, placeOf, MAPPINGS_IN_A_PART);
}

const MAPPINGS_IN_A_PART = 100;

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

/** Bindings of the same mapping, driven by the same performer. */
function sameBindings(
  next: Engine,
  old: Engine,
  who: Places,
  mappings: Places,
): (Binding | undefined)[] {
  const company = old.show.performers.length;
  const before = new Map<number, Binding>();
  for (const one of old.mappings.bindings) {
    // A follow mapping has its own, whomever it chooses now.
    const place = one.mapping.kind === 'follow' ? 0 : one.performer;
    before.set(one.of * company + place, one);
  }
  return next.mappings.bindings.map(({ of, performer, mapping: { kind } }) => {
    const mapping = mappings[of] as number;
    const place = kind === 'follow' ? 0 : (who[performer] as number);
    return mapping < 0 || place < 0 ? undefined : before.get(mapping * company + place);
  });
}

/** Drives of the same mapping, for each of the new one's. */
function sameDrives(next: Engine, old: Engine, mappings: Places): Map<Drive, Drive> {
  const before = new Map(old.mappings.drives.map(drive => [drive.of, drive]));
  const drives = new Map<Drive, Drive>();
  for (const drive of next.mappings.drives) {
    const was = before.get(mappings[drive.of] as number);
    if (was !== undefined) drives.set(drive, was);
  }
  return drives;
}

function sameLayers(
  next: Engine,
  old: Engine,
  { bindings, drives, fixtures }: Pick<Pairs, 'bindings' | 'drives' | 'fixtures'>,
): Map<Layer, Layer> {
  const lightNow = new Map(fixtures.map((then, now) => [then, now]));
  const layers = new Map<Layer, Layer>();
  const ofOwners = (was: readonly Layer[], mine: readonly Layer[]) => {
    for (const one of was) {
      const same = mine.find(({ light }) => light === lightNow.get(one.light));
      if (same !== undefined) layers.set(one, same);
    }
  };
  for (const { index, layers: mine } of next.mappings.bindings) {
    ofOwners(bindings[index]?.layers ?? [], mine);
  }
  const [before, now] = [byOwner(old), byOwner(next)];
  for (const [drive, was] of drives) {
    for (const [i, lane] of drive.lanes.entries()) {
      ofOwners(before.get(was.lanes[i]) ?? [], now.get(lane) ?? []);
    }
  }
  return layers;
}

/** Of lanes. */
function byOwner({ mappings }: Engine): ReadonlyMap<Layer['binding'] | undefined, Layer[]> {
  const layers = new Map<Layer['binding'] | undefined, Layer[]>();
  for (const layer of mappings.laneLayers) {
    const mine = layers.get(layer.binding);
    if (mine === undefined) layers.set(layer.binding, [layer]);
    else mine.push(layer);
  }
  return layers;
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
