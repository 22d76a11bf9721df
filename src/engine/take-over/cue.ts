import { comingOf, goOnCrossfade, settleCues } from '../cues/cues.js';
import type { Engine } from '../engine.js';
import { followOn, settleHeads } from '../heads/cue-heads.js';
import { weighCrossfades } from '../light/crossfade.js';
import type { Pairs } from './pairs.js';

/**
 * The cue of the same name, or the first. During its crossfade it goes on with the rest, between the cues as the new
 * show has them; if the new show lacks the cue that it came from, that part becomes the new cue's.
 */
export function takeCue(next: Engine, old: Engine, pairs: Pairs): void {
  const { cues, lights, crossfades } = next;
  if (cues.on < 0) return;
  const placeOf = (cue: number) => {
    const name = old.cues.plans[cue]?.name;
    return cues.plans.findIndex(one => one.name === name);
  };
  const { cause, by, heldS, share } = old.cues;
  const coming = placeOf(comingOf(old.cues));
  const on = placeOf(old.cues.on);
  Object.assign(cues, { cause, by });
  Object.assign(cues.heldS, heldS);
  if (on < 0) {
    settleCues(cues, lights, coming < 0 ? cues.on : coming);
  } else {
    const from = new Float64Array(cues.plans.length);
    old.cues.from.weights.forEach((weight, cue) => {
      const place = placeOf(cue);
      const at = place < 0 ? on : place;
      from[at] = (from[at] as number) + weight;
    });
    goOnCrossfade(cues, lights, { on, before: placeOf(old.cues.before), share, from });
    // Asked for since the last tick, and still to be done.
    cues.wanted = coming === on ? -1 : coming;
  }
  weighCrossfades(crossfades, cues);
  settleHeads(cues, next);
  if (on >= 0) takeWaiting(next, old, pairs);
}

/** Heads that wait for the dark to follow somebody else, or to move, go on waiting. */
function takeWaiting(next: Engine, old: Engine, { fixtures, mappings }: Pairs): void {
  const { cues, lights, aims } = next;
  fixtures.forEach((before, light) => {
    if (before < 0) return;
    const isDark = cues.looks[cues.on]?.dark[light] === 1;
    if (isDark) lights.muted[light] = old.lights.muted[before] as number;
    if (!old.aims.pending.includes(before)) return;
    const was = old.aims.followedBy[before] as number;
    const follow = was < 0 ? -1 : mappings.indexOf(was);
    if (was >= 0 && follow < 0) return;
    if (isDark) lights.holds[light] = old.lights.holds[before] as number;
    if (follow !== aims.followedBy[light]) followOn(follow, light, next);
    aims.pending.push(light);
  });
}
