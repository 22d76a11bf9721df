import { aimError, POINTING, type Pointing, placeHead } from '../../fixtures/pointing.js';
import { toDegrees } from '../../stage/units.js';
import { vec3 } from '../../stage/vector.js';
import type { Engine } from '../engine.js';
import { pointOf } from '../heads/aim.js';
import { isMoved } from '../heads/cue-heads.js';
import { radians } from '../heads/heads.js';
import { keptHead } from '../heads/keep-out.js';
import { takeOptics } from '../heads/optics.js';
import type { CrossfadeGroup } from '../light/crossfade.js';
import { beginTurns } from '../light/fades.js';
import { createMover, type GroupFade, type Mover } from '../light/reload-fade.js';
import { isLit, KIND, type Lights } from '../values/lights.js';
import type { Places } from '../values/places.js';
import { formerDriversOf } from './former-drivers.js';
import type { Pairs } from './pairs.js';

/** A head goes to its new aim in the dark if it is off by this much more than before, degrees. */
const OTHER_AIM_DEG = 2;

/** What light is out, and where the heads are. */
export function takeLights(next: Engine, old: Engine, { fixtures, mappings }: Pairs): void {
  const { lights, fades, aims } = next;
  const [layered, layeredThen] = [new Set(next.mappings.layered), new Set(old.mappings.layered)];
  next.patch.levels.set(old.patch.levels);
  eachLight(fixtures, (i, o) => {
    const end = lights.start[i + 1] as number;
    const shift = (old.lights.start[o] as number) - (lights.start[i] as number);
    // What nobody wants any more goes to the base look; but a head that follows goes on from its aim.
    const isFollow = (lights.followed[i] as number) >= 0;
    const isWanted = layered.has(i) || (isFollow && !layeredThen.has(o));
    for (let c = lights.start[i] as number; c < end; c++) {
      lights.out[c] = old.lights.out[c + shift] as number;
      fades.from[c] = old.fades.from[c + shift] as number;
      if (isWanted || (isFollow && lights.movement[c] === 1)) {
        lights.wanted[c] = old.lights.wanted[c + shift] as number;
      }
    }
    lights.asked[i] = old.lights.asked[o] as number;
    fades.heldIntensity[i] = old.fades.heldIntensity[o] as number;
    const [safeFade, was] = [fades.safeFades[i], old.fades.safeFades[o]];
    if (safeFade !== undefined && was !== undefined) {
      Object.assign(safeFade, was);
      fades.isLive[i] = old.fades.isLive[o] as number;
      fades.inHand[i] = old.fades.inHand[o] as number;
      fades.turning[i] = old.fades.turning[o] as number;
    }
    const [pointing, before] = [aims.pointings[i], old.aims.pointings[o]];
    if (pointing === undefined || before === undefined) return;
    if (was === undefined) stand(next, i, pointing);
    else takePointing(pointing, before);
    takeKeepOut(next, old, i, o);
    const [follow, followed] = [aims.follows[i], old.aims.follows[o]];
    if (follow !== undefined && followed !== undefined) {
      follow.saidReachable = followed.saidReachable;
    }
    for (const [mapping, { optics }] of aims.candidates[i] ?? []) {
      const same = old.aims.candidates[o]?.get(mappings[mapping] as number)?.optics;
      if (optics !== undefined && same !== undefined) takeOptics(optics, same);
    }
  });
}

/** How long its beam has been clear of the keep-outs with the same names. */
function takeKeepOut({ keepOuts, show }: Engine, old: Engine, i: number, o: number): void {
  const head = keptHead(keepOuts, i);
  const was = keptHead(old.keepOuts, o);
  if (head === undefined || was === undefined) return;
  const here = (which: number) =>
    show.keepOuts.findIndex(({ name }) => name === old.show.keepOuts[which]?.name);
  head.clearForS = was.clearForS;
  head.touches = here(was.touches);
  head.toldBy = here(was.toldBy);
  keepOuts.barredBy[i] = here(old.keepOuts.barredBy[o] as number);
}

/** The axes, and where they are going; not where it hangs. */
function takePointing(pointing: Pointing, before: Pointing): void {
  const { numbers, at } = pointing;
  numbers.set(before.numbers.subarray(before.at, before.at + POINTING.place), at);
  Object.assign(pointing.pass, before.pass);
  Object.assign(pointing.best, before.best);
  pointing.reachable = before.reachable;
  pointing.wantsDark = before.wantsDark;
}

/** At the pan and tilt now sent. */
function stand({ lights: { start, out, plans } }: Engine, i: number, pointing: Pointing): void {
  const first = start[i] as number;
  const { panChannel = 0, tiltChannel = 0 } = plans[i] ?? {};
  const [pan, tilt] = [out[first + panChannel] as number, out[first + tiltChannel] as number];
  placeHead(pointing, radians(pan), radians(tilt));
}

/** How the light goes from what is out to what the new show wants. */
export function beginFade(next: Engine, old: Engine, pairs: Pairs): Engine['reloadFade'] {
  const { lights, fades, crossfades, show } = next;
  const movers: Mover[] = [];
  const liveAt = new Float64Array(lights.plans.length);
  const most = new Float64Array(lights.plans.length).fill(1);
  const turns: number[] = [];
  const { fixtures } = pairs;
  eachLight(fixtures, (i, o) => {
    const safeFade = fades.safeFades[i];
    if (safeFade === undefined) {
      // A pan that no mapping moves belongs to the base look.
      if (goesElsewhere(lights, i)) movers.push(createMover(i, isLit(lights, i)));
      return;
    }
    const began = old.lights.kind[o] !== KIND.moving;
    if (began || (isAtSafe(safeFade.stage) && hasOtherSafeAim(lights, old.lights, i, o))) {
      // Treated as live, whatever it shows: out, over in the dark, and up.
      const shows = safeFade.stage !== 'to-safe' && isLit(lights, i);
      Object.assign(safeFade, { stage: 'fading', live: shows ? 1 : 0, safe: 0 });
      fades.isLive[i] = 0;
      fades.turning[i] = 1;
      const at = lights.intensity[i] as number;
      fades.heldIntensity[i] = at < 0 ? 0 : (lights.out[at] as number);
      most[i] = 0;
    } else if (safeFade.stage === 'live' || safeFade.stage === 'rising') {
      if (hasOtherAim(next, old, i, o)) {
        turns.push(i);
        most[i] = 0;
      }
    }
    liveAt[i] = safeFade.live;
  });
  beginTurns(fades, turns, lights);
  const { reloadS, watchdog } = show;
  const turn = { returnS: watchdog.turnS, moveS: watchdog.moveS };
  const from = Float64Array.from(lights.out);
  const groups = new Map<CrossfadeGroup, GroupFade>();
  for (const group of crossfades.groups) {
    const began: number[] = [];
    for (const { level } of group.crossfades) began.push(level);
    groups.set(group, { began, least: 1 });
  }
  const left = formerDriversOf(next, old, pairs);
  return { lastsS: reloadS, share: 0, from, most, liveAt, groups, ...left, movers, turn };
}

function isAtSafe(stage: string): boolean {
  return stage === 'safe' || stage === 'to-safe';
}

/** For a light that nothing moves: it is not sent where it rests. */
function goesElsewhere(lights: Lights, i: number): boolean {
  if (lights.kind[i] !== KIND.idle) return false;
  return isMoved(lights, i, lights.out, lights.base);
}

function hasOtherSafeAim(lights: Lights, old: Lights, i: number, o: number): boolean {
  const shift = (old.start[o] as number) - (lights.start[i] as number);
  return isMoved(lights, i, lights.safe, old.safe, shift);
}

/** It follows somebody else, or its performer is in another direction. */
function hasOtherAim(next: Engine, old: Engine, i: number, o: number): boolean {
  const [follow, was] = [next.aims.follows[i], old.aims.follows[o]];
  const [pointing, before] = [next.aims.pointings[i], old.aims.pointings[o]];
  // For a head that follows nobody, `aim` notices by itself.
  if (follow === undefined) return was !== undefined;
  if (was === undefined || follow.name !== was.name) return true;
  if (pointing === undefined || before === undefined) return false;
  const offNow = errorDeg(pointing, pointOf(follow, vec3(0, 0, 0)));
  const offThen = errorDeg(before, pointOf(was, vec3(0, 0, 0)));
  return offNow > offThen + OTHER_AIM_DEG;
}

function errorDeg(pointing: Pointing, { x, y, z }: { x: number; y: number; z: number }): number {
  return toDegrees(aimError(pointing, x, y, z));
}

/** Calls back for each light, with its place in the old show. */
function eachLight(fixtures: Places, take: (light: number, before: number) => void): void {
  fixtures.forEach((before, light) => {
    if (before >= 0) take(light, before);
  });
}
