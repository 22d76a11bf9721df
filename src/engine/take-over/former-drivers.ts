import { performersOf } from '../../show/model/basis.js';
import type { Engine } from '../engine.js';
import type { Crossfade, CrossfadeGroup } from '../light/crossfade.js';
import type { FormerDriver, FormerDrivers, ReloadFade } from '../light/reload-fade.js';
import type { WatchedPerformer } from '../people/watch.js';
import type { Places } from '../values/places.js';
import type { Pairs } from './pairs.js';

/**
 * Performers who no longer drive a light, because its mapping is gone or somebody else's. If they are lost, what is
 * left of their light must not outlast that loss: the new show has no crossfade that would take it down.
 */
export function formerDriversOf(
  next: Engine,
  old: Engine,
  pairs: Pairs,
): Pick<ReloadFade, 'formerDriversOf' | 'formerDrivers'> {
  const ofBeliever = believersOf(next, old, pairs);
  const known = new Map<Crossfade, readonly FormerDriver[]>();
  const ofGroups = new Map<
    CrossfadeGroup,
    Map<CrossfadeGroup | undefined, FormerDrivers | undefined>
  >();
  const ofLights = pairs.fixtures.map((before, light): FormerDrivers | undefined => {
    const was = before < 0 ? undefined : old.crossfades.ofLight[before];
    if (was === undefined) return undefined;
    const is = next.crossfades.ofLight[light];
    const made =
      ofGroups.get(was) ?? new Map<CrossfadeGroup | undefined, FormerDrivers | undefined>();
    ofGroups.set(was, made);
    if (made.has(is)) return made.get(is);
    const drivers = was.crossfades.flatMap(one => {
      const stays = is?.byBeliever.has(ofBeliever[one.performer] ?? -1) ?? false;
      if (stays || one.ramp === 0 || one.says === 0) return [];
      const there = known.get(one) ?? driversOf(one, next, old, pairs.performers);
      known.set(one, there);
      return there;
    });
    const fresh = drivers.length === 0 ? undefined : { drivers };
    made.set(is, fresh);
    return fresh;
  });
  return { formerDriversOf: ofLights, formerDrivers: [...known.values()].flat() };
}

/** For each owner of trust in the old engine: the same one in the new engine. */
function believersOf(next: Engine, old: Engine, { performers, mappings }: Pairs): number[] {
  const there: number[] = [];
  performers.forEach((before, now) => {
    if (before >= 0) there[before] = now;
  });
  mappings.forEach((before, now) => {
    if (before >= 0) there[old.show.performers.length + before] = next.show.performers.length + now;
  });
  return there;
}

/** Somebody who is being lost keeps the time of that loss; anybody else may still be lost. */
function driversOf(
  { performer, fadeS, ramp }: Crossfade,
  next: Engine,
  old: Engine,
  who: Places,
): readonly FormerDriver[] {
  const former = (watched: WatchedPerformer | undefined, lastsS = fadeS): FormerDriver => ({
    watched,
    fadeS: lastsS,
    ramp,
    began: ramp,
  });
  const { isKnown, watch } = old.watched.believed[performer] as WatchedPerformer;
  if (!isKnown) return [former(undefined, fadeS ?? watch.fadeS)];
  const { performers, mappings } = old.show;
  const mapping = mappings[performer - performers.length];
  const on = mapping === undefined ? [performer] : performersOf(old.show, mapping);
  return [...on].flatMap(one => {
    const watched = next.watched.performers[who.indexOf(one)];
    return watched?.isKnown === true ? [former(watched)] : [];
  });
}
