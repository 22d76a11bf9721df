import { clearance } from '../fixtures/keep-out.js';
import { aimAt, panTilt } from '../fixtures/kinematics.js';
import type { SafeFadeStage } from '../safety/fade-to-safe.js';
import { keepOutOf } from '../show/keep-out.js';
import type { FixturePlan, FollowChoice, FollowMappingPlan, Show } from '../show/model.js';
import { createEstimate, type Estimate } from '../tracking/sighting.js';
import { type Aims, takeFollow } from './aim.js';
import { type Assignment, assign, createAssignment } from './assignment.js';
import type { EngineEvent } from './events.js';
import { beginTurns, type Fades } from './fades.js';
import { type Follow, followOf } from './follow.js';
import type { Drive } from './lanes.js';
import { isLit, type Lights } from './lights.js';
import type { Binding, Mappings } from './map.js';
import { estimateFor, type TrackedPerformer, type Tracks } from './tracks.js';
import type { Watched, WatchedPerformer } from './watch.js';
import type { Presences } from './zones.js';

/** Heads that choose whom they follow. */
export interface Choices {
  readonly all: readonly Chooser[];
  readonly pools: readonly Pool[];
}

/** One head by one mapping. */
export interface Chooser {
  /** Index of the mapping. */
  readonly of: number;
  readonly choice: FollowChoice;
  readonly light: number;
  readonly plan: FixturePlan;
  readonly drive: Drive;
  readonly binding: Binding;
  /** For each of the people; of a middle one for all. */
  readonly follows: readonly Follow[];
  /** Place among the people of whom it is on, -1 for nobody; and of whom it is to be on. */
  current: number;
  wanted: number;
  /** Since it is on them; and since it waits for the head that takes over, seconds. */
  forS: number;
  waitsS: number;
  /** For each of the people how long they have been in the zone of `first`, seconds. */
  readonly insideS: Float64Array;
}

/** Heads that serve a group together. */
interface Pool {
  readonly heads: readonly Chooser[];
  readonly assignment: Assignment;
}

interface Seen {
  readonly show: Show;
  readonly tracks: Tracks;
  readonly watched: Watched;
  readonly presences: Presences;
  readonly lights: Lights;
  readonly fades: Fades;
  readonly aims: Aims;
}

/** So much nearer another one has to be, metres. */
const NEARER_M = 0.5;
/** The head that takes over is not waited for any longer, seconds. */
const LONGEST_CROSS_S = 8;

/** Costs of a head on a performer: 1 is ten metres of throw, or light from the side instead of from the front. */
const COST = { metresOfThrow: 10, change: 0.5, intoEyes: 2, unserved: 1e4, never: 1e6 } as const;
/** McCandless, A Method of Lighting the Stage (1932; from memory): 45 degrees up. Below 20 it is in the eyes: common practice. */
const [BEST_RAD, EYES_RAD] = [Math.PI / 4, Math.PI / 9];

export function createChoices(
  show: Show,
  { bindings, drives }: Pick<Mappings, 'bindings' | 'drives'>,
  tracks: Tracks,
): Choices {
  const all = show.mappings.flatMap((mapping, of): Chooser[] => {
    if (mapping.kind !== 'follow' || mapping.choice === undefined) return [];
    const [light] = mapping.heads;
    const plan = show.fixtures[light ?? -1];
    const drive = drives.find(one => one.of === of);
    const binding = bindings.find(one => one.of === of);
    if (light === undefined || plan === undefined || !drive || !binding) return [];
    const { choice } = mapping;
    return [
      {
        ...{ of, choice, light, plan, drive, binding },
        follows: followsOf(of, mapping, choice, plan, show, tracks),
        current: -1,
        wanted: -1,
        forS: 0,
        waitsS: 0,
        insideS: new Float64Array(choice.people.length),
      },
    ];
  });
  for (const { drive, choice } of all) drive.isFree = choice.rule.kind !== 'middle';
  const byPool = new Map<number, Chooser[]>();
  for (const one of all) {
    if (one.choice.rule.kind !== 'share') continue;
    const { pool } = one.choice.rule;
    byPool.set(pool, [...(byPool.get(pool) ?? []), one]);
  }
  return {
    all,
    pools: [...byPool.values()].map(heads => {
      const people = heads[0]?.choice.people.length ?? 0;
      return { heads, assignment: createAssignment(people, heads.length + people) };
    }),
  };
}

function followsOf(
  of: number,
  mapping: FollowMappingPlan,
  { people, offsets, rule }: FollowChoice,
  plan: FixturePlan,
  show: Show,
  tracks: Tracks,
): Follow[] {
  const estimate = (p: number, lagS: number) => estimateFor(tracks, p, lagS);
  if (rule.kind === 'middle') {
    const middle = createEstimate();
    for (const p of people) estimate(p, plan.lagS);
    return [followOf(plan, of, show, () => middle)];
  }
  return people.map((performer, i) =>
    followOf(plan, of, show, estimate, { performer, offset: offsets[i] ?? mapping.offset }),
  );
}

/**
 * Whom the heads are on: those who are believed may be chosen. A head goes to somebody else in the dark, but where the show
 * has it otherwise. Before `stepDrives`, which takes the trust of whoever it is.
 * @param fades of the last tick
 */
export function choose(choices: Choices, seen: Seen, dtS: number, events: EngineEvent[]): void {
  for (const one of choices.all) {
    one.forS += dtS;
    if (one.choice.rule.kind === 'middle') holdAll(one, seen);
    else if (one.choice.rule.kind === 'nearest') one.wanted = nearest(one, seen);
    else if (one.choice.rule.kind === 'first') one.wanted = first(one, seen, dtS);
  }
  for (const pool of choices.pools) share(pool, seen);
  for (const one of choices.all) {
    if (one.choice.rule.kind !== 'middle') goOver(choices, one, seen, dtS, events);
  }
}

function believed({ choice: { people } }: Chooser, { watched }: Seen, i: number): boolean {
  return watched.performers[people[i] ?? -1]?.follows === true;
}

function placeOf({ choice: { people } }: Chooser, { tracks }: Seen, i: number): Estimate {
  return (tracks.performers[people[i] as number] as TrackedPerformer).estimate;
}

function nearest(one: Chooser, seen: Seen): number {
  const { choice, current, forS } = one;
  if (choice.rule.kind !== 'nearest') return -1;
  const { to } = choice.rule;
  const goal =
    typeof to === 'number' ? (seen.tracks.performers[to] as TrackedPerformer).estimate : to;
  const stays = current >= 0 && believed(one, seen, current);
  if (stays && forS < choice.holdS) return current;
  let best = current;
  let leastM = stays ? apartM(placeOf(one, seen, current), goal) - NEARER_M : Infinity;
  for (let i = 0; i < choice.people.length; i++) {
    if (i === current || choice.people[i] === to || !believed(one, seen, i)) continue;
    const awayM = apartM(placeOf(one, seen, i), goal);
    if (awayM >= leastM) continue;
    leastM = awayM;
    best = i;
  }
  return best;
}

function apartM(
  a: Readonly<{ x: number; y: number; z: number }>,
  b: Readonly<{ x: number; y: number; z: number }>,
): number {
  const [dx, dy] = [a.x - b.x, a.y - b.y];
  return Math.sqrt(dx * dx + dy * dy);
}

/** Who has been in the zone for longest. */
function first(one: Chooser, seen: Seen, dtS: number): number {
  const { choice, insideS, current } = one;
  if (choice.rule.kind !== 'first') return -1;
  const presences = seen.presences.zones[choice.rule.zone]?.presences;
  let best = -1;
  for (let i = 0; i < choice.people.length; i++) {
    const level = presences?.[choice.people[i] as number]?.level ?? 0;
    const isIn = believed(one, seen, i) && level >= 0.5;
    // Somebody lost who was there may be there still: whoever comes later is not before them, until they are dark.
    insideS[i] = isIn ? (insideS[i] as number) + dtS : 0;
    if (isIn && (best < 0 || (insideS[i] as number) > (insideS[best] as number))) best = i;
  }
  if (current >= 0 && believed(one, seen, current) && (insideS[current] as number) > 0) {
    return current;
  }
  return best;
}

/** The best assignment of those who are believed to the heads that can be had. */
function share({ heads, assignment }: Pool, seen: Seen): void {
  const { costs, columns, columnOf, rows } = assignment;
  for (let i = 0; i < rows; i++) {
    const row = i * columns;
    const [any] = heads;
    const isThere = any !== undefined && believed(any, seen, i);
    costs.fill(COST.never, row, row + columns);
    costs[row + heads.length + i] = isThere ? COST.unserved : 0;
    if (!isThere) continue;
    for (let h = 0; h < heads.length; h++) {
      const head = heads[h] as Chooser;
      const { current, forS, choice } = head;
      if (current === i) costs[row + h] = costOf(head, seen, i);
      // A head that has just been given to somebody, or is on somebody lost and not yet dark, is not to be had.
      else if (current < 0) costs[row + h] = COST.change + costOf(head, seen, i);
      else if (believed(head, seen, current) ? forS >= choice.holdS : !shows(head, seen)) {
        costs[row + h] = COST.change + costOf(head, seen, i);
      }
    }
  }
  assign(assignment);
  for (const head of heads) head.wanted = -1;
  for (let i = 0; i < rows; i++) {
    const head = heads[columnOf[i] as number];
    if (head !== undefined && (costs[i * columns + (columnOf[i] as number)] ?? 0) < COST.unserved) {
      head.wanted = i;
    }
  }
}

const aimed = panTilt();

/** Of a head on a performer: by throw and angle; out of reach, or into a keep-out, more than all else together. */
function costOf({ plan, light, follows }: Chooser, seen: Seen, i: number): number {
  const follow = follows[i];
  if (plan.head === undefined || follow === undefined) return COST.never;
  const { estimate, offset } = follow;
  const pointing = seen.aims.pointings[light];
  if (pointing === undefined) return COST.never;
  const { head } = pointing;
  const [x, y, z] = [estimate.x + offset.x, estimate.y + offset.y, estimate.z + offset.z];
  const { position } = head;
  const [dx, dy, dz] = [x - position.x, y - position.y, position.z - z];
  const acrossM = Math.sqrt(dx * dx + dy * dy);
  const throwM = Math.sqrt(acrossM * acrossM + dz * dz);
  aimAt(head, x, y, z, 0, 0, aimed);
  if (!aimed.reachable) return COST.never;
  const keepOut = keepOutOf(seen.show, light);
  if (keepOut !== undefined) {
    const { zoom } = keepOut.field;
    const at = (seen.lights.start[light] as number) + zoom;
    const zoomDeg = zoom < 0 ? 0 : (seen.lights.wanted[at] as number);
    if (clearance(keepOut, aimed.pan, aimed.tilt, zoomDeg, 0) < 0) return COST.never;
  }
  const elevation = Math.atan2(dz, acrossM);
  // The audience is where y falls: light from there comes with y growing.
  const fromFront = acrossM > 0.1 ? dy / acrossM : 0;
  return (
    throwM / COST.metresOfThrow +
    (1 - fromFront) +
    Math.abs(elevation - BEST_RAD) / BEST_RAD +
    (elevation < EYES_RAD ? COST.intoEyes : 0)
  );
}

function stageOf({ light }: Chooser, { fades }: Seen): SafeFadeStage {
  return fades.safeFades[light]?.stage ?? 'live';
}

/** Something of the performer whom it is on shows, or may come up any moment. */
function shows(one: Chooser, seen: Seen): boolean {
  const stage = stageOf(one, seen);
  return stage === 'live' || stage === 'rising' || stage === 'fading';
}

/** To whom it is to be on, as soon as that may be. */
function goOver(
  choices: Choices,
  one: Chooser,
  seen: Seen,
  dtS: number,
  events: EngineEvent[],
): void {
  const { wanted, current, of, light, choice } = one;
  const { aims, fades, lights } = seen;
  if (wanted === current) {
    one.waitsS = 0;
    return;
  }
  if (wanted < 0) {
    if (waitsFor(choices, one, seen, dtS)) return;
    // Nobody to be on. Whoever is lost is held until they are dark, as everywhere.
    if (believed(one, seen, current) || !shows(one, seen)) release(one, events);
    return;
  }
  const acts = aims.followedBy[light] === of;
  const stage = stageOf(one, seen);
  if (!acts || stage === 'to-live' || stage === 'safe' || stage === 'to-safe') {
    take(one, seen, events);
    return;
  }
  if (stage === 'fading') return;
  // Lost just now: it goes dark over the fade of that loss.
  if (current >= 0 && !believed(one, seen, current)) return;
  if (choice.change === 'lit' && current >= 0) {
    take(one, seen, events);
    return;
  }
  if (waitsFor(choices, one, seen, dtS)) return;
  beginTurns(fades, [light], lights);
}

/** It crosses over: it stays on whom it is on until another head shows them. */
function waitsFor(choices: Choices, one: Chooser, seen: Seen, dtS: number): boolean {
  const { choice, current, light } = one;
  if (choice.change !== 'cross' || current < 0 || !believed(one, seen, current)) return false;
  one.waitsS += dtS;
  if (one.waitsS >= LONGEST_CROSS_S || !isLit(seen.lights, light)) return false;
  return isAwaited(choices, one, seen);
}

/** Another head is to take over whom it is on, and does not show them yet. */
function isAwaited({ all }: Choices, one: Chooser, seen: Seen): boolean {
  const { choice, current } = one;
  return all.some(
    other =>
      other !== one &&
      other.choice.rule.kind === 'share' &&
      choice.rule.kind === 'share' &&
      other.choice.rule.pool === choice.rule.pool &&
      other.wanted === current &&
      !(other.current === current && ['rising', 'live'].includes(stageOf(other, seen))),
  );
}

function release(one: Chooser, events: EngineEvent[]): void {
  tell(one, -1, events);
  one.drive.isFree = true;
  one.current = -1;
  one.forS = 0;
}

/** From now on it is on them. */
function take(one: Chooser, { aims, lights }: Seen, events: EngineEvent[]): void {
  tell(one, one.wanted, events);
  settleOn(one, one.wanted, aims, lights);
}

/** @param i place among its people */
function settleOn(one: Chooser, i: number, aims: Aims, lights: Lights): void {
  const { drive, binding, choice, follows, light, of } = one;
  const performer = choice.people[i] as number;
  drive.isFree = false;
  drive.follows = performer;
  binding.performer = performer;
  one.current = i;
  one.wanted = i;
  one.forS = 0;
  one.waitsS = 0;
  aims.candidates[light]?.set(of, follows[i] as Follow);
  if (aims.followedBy[light] === of) takeFollow(aims, lights, light, of);
}

function tell({ plan, follows, current }: Chooser, next: number, events: EngineEvent[]): void {
  events.push({
    kind: 'hand-over',
    fixture: plan.name,
    performer: follows[next]?.name,
    previous: follows[current]?.name,
  });
}

/**
 * The middle of those who are believed, each with the weight of their trust: who is lost is left as it falls. The beam
 * holds them all.
 */
function holdAll(one: Chooser, { watched, tracks, aims, lights }: Seen): void {
  const { choice, follows, drive, binding, light, of, plan } = one;
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
  if (performer === follow.performer && one.current === 0) return;
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

/**
 * Those whose head is on somebody whom it may still be on are on them from the start.
 * @param performers names of those of the show before
 */
export function takeChoices(
  next: Choices,
  old: Choices,
  show: Show,
  performers: readonly string[],
  aims: Aims,
  lights: Lights,
): void {
  for (const one of next.all) {
    const was = old.all.find(
      ({ plan, choice }) =>
        plan.name === one.plan.name && choice.rule.kind === one.choice.rule.kind,
    );
    if (was === undefined || was.current < 0 || was.choice.rule.kind === 'middle') continue;
    const name = performers[was.choice.people[was.current] as number];
    const i = one.choice.people.findIndex(p => show.performers[p]?.name === name);
    if (i < 0) continue;
    settleOn(one, i, aims, lights);
    one.forS = was.forS;
  }
}
