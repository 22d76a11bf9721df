import type { Engine } from '../engine.js';
import { type Crossfade, spanGroups } from '../light/crossfade.js';
import type { Drive } from '../light/lanes.js';
import { type Layer, restack } from '../light/layers.js';
import { takeWatched, type WatchedPerformer } from '../people/watch.js';
import type { Pairs } from './pairs.js';

/** A mapping that was there before goes on from its level; a new one begins where its performer is. */
export function takeMappings(next: Engine, old: Engine, pairs: Pairs): void {
  for (const [drive, was] of pairs.drives) takeDrive(drive, was);
  takeCrossfades(next, pairs);
  const { mappings, watched, cues } = next;
  for (const binding of mappings.bindings) {
    const was = pairs.bindings[binding.index];
    if (was !== undefined) binding.own = was.own;
    else {
      const { presence, curve } = binding;
      const { follows } = watched.performers[binding.performer] as WatchedPerformer;
      const target = presence === undefined ? 1 : curve(presence.level);
      binding.own = follows ? target : 0;
    }
    binding.level = binding.own * (cues.levels[binding.of] as number);
  }
  takeLayers(next, old, pairs);
  mappings.awake = mappings.bindings.filter(
    ({ sleeps, own, presence }) => !sleeps || own > 0 || (presence?.level ?? 0) > 0,
  );
}

/** A mapping that depends on signals: its levels, and whether it is believed. */
function takeDrive(drive: Drive, was: Drive): void {
  takeWatched(drive.believed, was.believed);
  drive.master = was.master;
  drive.masterLeast = was.masterLeast;
  for (const [i, lane] of drive.lanes.entries()) {
    const same = was.lanes[i];
    if (same === undefined) continue;
    const { own, before, acts, master, level, least, greatest } = same;
    const { sure, shownSure, risenFor } = same;
    Object.assign(lane, { own, before, acts, master, level, least, greatest });
    Object.assign(lane, { sure, shownSure, risenFor });
  }
}

function takeCrossfades({ crossfades, watched }: Engine, { crossfades: before }: Pairs): void {
  const { all } = crossfades;
  for (let i = 0; i < all.length; i++) {
    const one = all[i] as Crossfade;
    one.ramp = before[i]?.ramp ?? watched.believed[one.performer]?.watch.trust ?? 0;
    one.level = one.says === 1 ? one.ramp : 1 - one.says * (1 - one.ramp);
  }
  spanGroups(crossfades);
}

/** What lay on top stays on top. */
function takeLayers({ mappings }: Engine, old: Engine, { layers }: Pairs): void {
  const { active, bindings, laneLayers } = mappings;
  for (const stack of old.mappings.active) {
    for (const one of stack) {
      const layer = layers.get(one);
      if (layer !== undefined) raise(active, layer);
    }
  }
  for (const { level, layers: mine } of bindings) {
    if (level > 0) for (const layer of mine) restack(active, layer, true);
  }
  for (const layer of laneLayers) if (layer.binding.level > 0) restack(active, layer, true);
}

function raise(active: readonly Layer[][], layer: Layer): void {
  restack(active, layer, false);
  restack(active, layer, true);
}
