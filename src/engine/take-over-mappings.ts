import type { Engine } from './engine.js';
import { type Layer, restack } from './map.js';
import type { Pairs } from './take-over-pairs.js';
import type { Places } from './take-over-places.js';
import type { WatchedPerformer } from './watch.js';

/** What has a level, and lies with its layers on lights. */
type Owner = Layer['binding'];

/** A mapping that was there goes on from its level; another begins at where its performer is. */
export function takeMappings(next: Engine, old: Engine, pairs: Pairs): void {
  const owners = new Map<Owner, Owner>();
  takeDrives(next, old, pairs.mappings, owners);
  takeCrossfades(next, pairs);
  const { mappings, watched } = next;
  for (const binding of mappings.bindings) {
    const was = pairs.bindings[binding.index];
    if (was !== undefined) owners.set(was, binding);
    const { presence, curve } = binding;
    const { follows } = watched.performers[binding.performer] as WatchedPerformer;
    const target = presence === undefined ? 1 : curve(presence.level);
    binding.own = was?.own ?? (follows ? target : 0);
    binding.level = binding.own * (next.cues.levels[binding.of] as number);
  }
  takeLayers(next, old, owners, pairs.fixtures);
  mappings.awake = mappings.bindings.filter(
    ({ sleeps, own, presence }) => !sleeps || own > 0 || (presence?.level ?? 0) > 0,
  );
}

/** Mappings that rest on signals: their levels, and whether they are believed. */
function takeDrives(next: Engine, old: Engine, places: Places, owners: Map<Owner, Owner>): void {
  const before = new Map(old.mappings.drives.map(drive => [drive.of, drive]));
  for (const drive of next.mappings.drives) {
    const was = before.get(places[drive.of] as number);
    if (was === undefined) continue;
    const { watch, observation, ...rest } = was.believed;
    Object.assign(drive.believed.watch, watch);
    Object.assign(drive.believed.observation, observation);
    Object.assign(drive.believed, rest);
    drive.master = was.master;
    drive.masterLeast = was.masterLeast;
    drive.lanes.forEach((lane, i) => {
      const same = was.lanes[i];
      if (same === undefined) return;
      const { by: _, fixtures: __, ...level } = same;
      Object.assign(lane, level);
      owners.set(same, lane);
    });
  }
}

function takeCrossfades({ crossfades, watched }: Engine, { crossfades: before }: Pairs): void {
  crossfades.all.forEach((one, i) => {
    one.ramp = before[i]?.ramp ?? watched.believed[one.performer]?.watch.trust ?? 0;
    one.level = one.says === 1 ? one.ramp : 1 - one.says * (1 - one.ramp);
  });
  for (const group of crossfades.groups) {
    const levels = group.crossfades.map(({ level }) => level);
    group.lowest = Math.min(...levels);
    group.highest = Math.max(...levels);
  }
}

/** What lay on top still does. */
function takeLayers(
  next: Engine,
  old: Engine,
  owners: ReadonlyMap<Owner, Owner>,
  fixtures: Places,
): void {
  const { active, bindings, laneLayers } = next.mappings;
  const layers = [...bindings.flatMap(one => one.layers), ...laneLayers];
  const of = new Map<Owner, Layer[]>();
  for (const layer of layers) {
    const mine = of.get(layer.binding);
    if (mine === undefined) of.set(layer.binding, [layer]);
    else mine.push(layer);
  }
  const lightNow = new Map(fixtures.map((then, now) => [then, now]));
  old.mappings.active.forEach((stack, lightThen) => {
    for (const { binding } of stack) {
      const owner = owners.get(binding);
      const mine = owner === undefined ? undefined : of.get(owner);
      const layer = mine?.find(({ light }) => light === lightNow.get(lightThen));
      if (layer !== undefined) raise(active, layer);
    }
  });
  for (const layer of layers) if (layer.binding.level > 0) restack(active, layer, true);
}

function raise(active: readonly Layer[][], layer: Layer): void {
  restack(active, layer, false);
  restack(active, layer, true);
}
