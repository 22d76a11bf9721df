import type { MappingPlan, Show } from '../show/model.js';
import type { Engine } from './engine.js';
import { type Layer, restack } from './map.js';
import { type Places, placesIn } from './take-over-places.js';
import type { WatchedPerformer } from './watch.js';

/** What has a level, and lies with its layers on lights. */
type Owner = Layer['binding'];

/** A mapping that was there goes on from its level; another begins at where its performer is. */
export function takeMappings(next: Engine, old: Engine, who: Places): void {
  const places = mappingsIn(old.show, next.show);
  const owners = new Map<Owner, Owner>();
  takeDrives(next, old, places, owners);
  takeCrossfades(next, old, who, places);
  const { mappings, watched, show } = next;
  const before = new Map(
    old.mappings.bindings.map(one => [keyOfBinding(old.show, one.mapping, one.performer), one]),
  );
  for (const binding of mappings.bindings) {
    const place = places[show.mappings.indexOf(binding.mapping)] as number;
    const was = before.get(`${place}/${who[binding.performer]}`);
    if (was !== undefined) owners.set(was, binding);
    const { presence, curve } = binding;
    const { follows } = watched.performers[binding.performer] as WatchedPerformer;
    const target = presence === undefined ? 1 : curve(presence.level);
    binding.own = was?.own ?? (follows ? target : 0);
    binding.level = binding.own * (next.cues.levels[binding.of] as number);
  }
  takeLayers(next, old, owners);
  mappings.awake = mappings.bindings.filter(
    ({ sleeps, own, presence }) => !sleeps || own > 0 || (presence?.level ?? 0) > 0,
  );
}

function keyOfBinding({ mappings }: Show, mapping: MappingPlan, performer: number): string {
  return `${mappings.indexOf(mapping)}/${performer}`;
}

/** The same mapping: by its name, or by what drives what. */
function mappingsIn(old: Show, next: Show): Places {
  const places = new Map<string, number[]>();
  old.mappings.forEach((mapping, index) => {
    const key = keyOf(mapping, old);
    places.set(key, [...(places.get(key) ?? []), index]);
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

/** Mappings that rest on signals: their levels, and whether they are believed. */
function takeDrives(next: Engine, old: Engine, places: Places, owners: Map<Owner, Owner>): void {
  for (const drive of next.mappings.drives) {
    const was = old.mappings.drives.find(({ of }) => of === places[drive.of]);
    if (was === undefined) continue;
    const { watch, observation, ...rest } = was.believed;
    Object.assign(drive.believed.watch, watch);
    Object.assign(drive.believed.observation, observation);
    Object.assign(drive.believed, rest);
    drive.lanes.forEach((lane, i) => {
      const same = was.lanes[i];
      if (same === undefined) return;
      const { by: _, fixtures: __, ...level } = same;
      Object.assign(lane, level);
      owners.set(same, lane);
    });
  }
}

/** Of performers, and after them of mappings: see `Watched.believed`. */
function takeCrossfades(
  { crossfades, watched, show }: Engine,
  old: Engine,
  who: Places,
  mappings: Places,
): void {
  const company = show.performers.length;
  const companyThen = old.show.performers.length;
  for (const one of crossfades.all) {
    const mapping = mappings[one.performer - company] ?? -1;
    const place =
      one.performer < company ? who[one.performer] : mapping < 0 ? -1 : companyThen + mapping;
    const same = old.crossfades.all.find(
      ({ performer, fadeS }) => performer === place && fadeS === one.fadeS,
    );
    one.ramp = same?.ramp ?? watched.believed[one.performer]?.watch.trust ?? 0;
    one.level = one.says === 1 ? one.ramp : 1 - one.says * (1 - one.ramp);
  }
  for (const group of crossfades.groups) {
    const levels = group.crossfades.map(({ level }) => level);
    group.lowest = Math.min(...levels);
    group.highest = Math.max(...levels);
  }
}

/** What lay on top still does. */
function takeLayers(next: Engine, old: Engine, owners: ReadonlyMap<Owner, Owner>): void {
  const { active, bindings, laneLayers } = next.mappings;
  const layers = [...bindings.flatMap(one => one.layers), ...laneLayers];
  const of = new Map<Owner, Layer[]>();
  for (const layer of layers) of.set(layer.binding, [...(of.get(layer.binding) ?? []), layer]);
  const lightNow = placesIn(next.show.fixtures, old.show.fixtures);
  old.mappings.active.forEach((stack, lightThen) => {
    for (const { binding } of stack) {
      const owner = owners.get(binding);
      const mine = owner === undefined ? undefined : of.get(owner);
      const layer = mine?.find(({ light }) => light === lightNow[lightThen]);
      if (layer !== undefined) raise(active, layer);
    }
  });
  for (const layer of layers) if (layer.binding.level > 0) restack(active, layer, true);
}

function raise(active: readonly Layer[][], layer: Layer): void {
  restack(active, layer, false);
  restack(active, layer, true);
}
