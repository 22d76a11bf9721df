import type { Estimate } from '../tracking/sighting.js';
import type { Aims } from './aim.js';
import { apartM, type Chooser, type Seen } from './chooser.js';
import type { Lights } from './lights.js';
import { estimateFor } from './tracks.js';
import type { WatchedPerformer } from './watch.js';

/**
 * The middle of those who are believed, each with the weight of their trust: who is lost is left as it falls. The beam
 * holds them all.
 */
export function holdAll(one: Chooser, { watched, tracks, aims, lights }: Seen): void {
  const { choice, follows, drive, plan } = one;
  const [follow] = follows;
  if (follow === undefined) return;
  const { estimate, optics } = follow;
  let total = 0;
  let on = -1;
  clear(estimate);
  for (const p of choice.people) {
    const { watch, follows: isThere } = watched.performers[p] as WatchedPerformer;
    if (isThere && on < 0) on = p;
    if (watch.trust === 0) continue;
    total += watch.trust;
    add(estimate, estimateFor(tracks, p, plan.lagS), watch.trust);
  }
  const performer = on < 0 ? drive.follows : on;
  if (total > 0) scale(estimate, 1 / total);
  else Object.assign(estimate, estimateFor(tracks, performer, plan.lagS));
  if (optics !== undefined) {
    optics.holdsM = 0;
    for (const p of choice.people) {
      const { trust } = (watched.performers[p] as WatchedPerformer).watch;
      const apart = apartM(estimateFor(tracks, p, plan.lagS), estimate);
      optics.holdsM = Math.max(optics.holdsM, 2 * trust * apart);
    }
  }
  if (performer !== follow.performer || one.current !== 0) holdOn(one, performer, aims, lights);
}

/** From now on it goes by the trust of this one. */
export function holdOn(one: Chooser, performer: number, aims: Aims, lights: Lights): void {
  const { follows, drive, binding, light, of } = one;
  const [follow] = follows;
  if (follow === undefined) return;
  one.current = 0;
  drive.follows = performer;
  binding.performer = performer;
  follow.performer = performer;
  aims.candidates[light]?.set(of, follow);
  if (aims.followedBy[light] !== of) return;
  aims.follows[light] = follow;
  lights.followed[light] = performer;
}

const SUMMED = [
  'x', 'y', 'z', 'vx', 'vy', 'vz', 'sigmaAlongM', 'sigmaAcrossM', 'sigmaHorizontalM', 'sigmaVerticalM', 'ageS',
] as const; // biome-ignore format: one row

function clear(estimate: Estimate): void {
  for (const key of SUMMED) estimate[key] = 0;
}

function add(to: Estimate, from: Readonly<Estimate>, weight: number): void {
  for (const key of SUMMED) to[key] += weight * from[key];
}

function scale(estimate: Estimate, by: number): void {
  for (const key of SUMMED) estimate[key] *= by;
}
