import type { Estimate } from '../../tracking/sighting.js';
import { beginTurns } from '../light/fades.js';
import type { WatchedPerformer } from '../people/watch.js';
import { estimateFor, type TrackedPerformer } from '../reports/tracks.js';
import type { Lights } from '../values/lights.js';
import type { Aims } from './aim.js';
import { apartM, type Chooser, type Seen, shows, stageOf } from './chooser.js';

/**
 * Fastest that changing weights may move the middle of a lit head, metres a second: a brisk walk (common practice).
 * If people stand far apart, one person's trust would otherwise sweep it across the stage.
 */
const WALK_MPS = 2;

/**
 * The middle of those who are believed, weighted by their trust: somebody lost drops out as their trust falls, and
 * somebody off stage at a walk. The beam holds them all. If one of them jumps, the head goes to the new middle in the
 * dark.
 */
export function holdAll(one: Chooser, seen: Seen, dtS: number): void {
  const { watched, tracks, aims, lights } = seen;
  const { choice, follows, drive, plan, weights } = one;
  const [follow] = follows;
  if (follow === undefined) return;
  const { estimate, optics } = follow;
  weigh(one, estimate, seen, dtS);
  let total = 0;
  let on = -1;
  let hasJumped = false;
  clear(estimate);
  for (let i = 0; i < choice.people.length; i++) {
    const p = choice.people[i] as number;
    if ((watched.performers[p] as WatchedPerformer).follows && on < 0) on = p;
    const weight = weights[i] as number;
    if (weight === 0) continue;
    if ((tracks.performers[p] as TrackedPerformer).jumped) hasJumped = true;
    total += weight;
    add(estimate, estimateFor(tracks, p, plan.lagS), weight);
  }
  const performer = on < 0 ? drive.follows : on;
  if (total > 0) scale(estimate, 1 / total);
  else Object.assign(estimate, estimateFor(tracks, performer, plan.lagS));
  if (optics !== undefined) {
    optics.holdsM = 0;
    for (let i = 0; i < choice.people.length; i++) {
      const apart = apartM(estimateFor(tracks, choice.people[i] as number, plan.lagS), estimate);
      optics.holdsM = Math.max(optics.holdsM, 2 * (weights[i] as number) * apart);
    }
  }
  // If all are lost, it fades out where it is.
  if (hasJumped && on >= 0) turn(one, seen);
  if (performer !== follow.performer || one.current !== 0) holdOn(one, performer, aims, lights);
}

/** @param middle as of the last tick */
function weigh(chooser: Chooser, middle: Readonly<Estimate>, seen: Seen, dtS: number): void {
  const { choice, plan, weights } = chooser;
  const isLit = shows(chooser, seen);
  let total = 0;
  for (const weight of weights) total += weight;
  for (let i = 0; i < weights.length; i++) {
    const p = choice.people[i] as number;
    const one = seen.watched.performers[p] as WatchedPerformer;
    const due = weightDue(one);
    const weight = weights[i] as number;
    if (!isLit || total === 0) {
      weights[i] = due;
      continue;
    }
    // Trust left in somebody lost does not bring back anybody the head has already left.
    const to = one.follows ? due : Math.min(weight, due);
    const apart = apartM(estimateFor(seen.tracks, p, plan.lagS), middle);
    const most = (WALK_MPS * dtS * total) / Math.max(apart, LEAST_APART_M);
    weights[i] = Math.min(weight + most, Math.max(weight - most, to));
  }
}

/** Off stage, the trust means that they are absent: there is nobody to aim at. */
function weightDue({ offStage, watch: { phase, trust } }: WatchedPerformer): number {
  return offStage || phase === 'off' ? 0 : trust;
}

/** If people are closer together than this, weights hardly move the middle, metres. */
const LEAST_APART_M = 0.1;

/** Whether a head is lit, or about to be, by this mapping. */
function turn(one: Chooser, seen: Seen): void {
  const { of, light } = one;
  if (seen.aims.followedBy[light] !== of) return;
  const stage = stageOf(one, seen);
  if (stage === 'live' || stage === 'rising') beginTurns(seen.fades, [light], seen.lights);
}

/** Makes it go by the trust of this one. */
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
