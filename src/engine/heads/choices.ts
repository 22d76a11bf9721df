import { mappingTitle } from '../../show/model/mapping-words.js';
import type { FixturePlan, FollowChoice, FollowMappingPlan, Show } from '../../show/model/model.js';
import { createEstimate } from '../../tracking/sighting.js';
import type { EngineEvent } from '../events/events.js';
import { beginTurns } from '../light/fades.js';
import { isOnNobody } from '../light/lanes.js';
import type { Mappings } from '../light/map.js';
import { estimateFor, type Tracks } from '../reports/tracks.js';
import { isLit, type Lights } from '../values/lights.js';
import type { Places } from '../values/places.js';
import { type Aims, takeFollow } from './aim.js';
import {
  apartM,
  believed,
  byOrder,
  type Choices,
  type Chooser,
  type ChoosingLight,
  goalOf,
  type Pool,
  placeOf,
  type Seen,
  shows,
  stageOf,
} from './chooser.js';
import { type Follow, followOf } from './follow.js';
import { holdAll, holdOn } from './middle.js';
import { tellPins } from './pins.js';
import { costOf, createPools, sharePools } from './sharing.js';

/** How much nearer another performer has to be before the head changes, metres. */
const NEARER_M = 0.5;
/** Longest wait for the head that takes over, seconds. */
const LONGEST_CROSS_S = 8;

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
        pinned: -1,
        forS: 0,
        waitsS: 0,
        rests: false,
        insideS: new Float64Array(choice.people.length),
        weights: new Float64Array(choice.people.length),
      },
    ];
  });
  for (const { drive, choice } of all) drive.isFree = choice.rule.kind !== 'middle';
  const lights = [...new Set(all.map(({ light }) => light))].map((light): ChoosingLight => {
    const name = show.fixtures[light]?.name ?? '';
    const by = show.mappings.flatMap((mapping, of): [number, string][] =>
      mapping.kind === 'follow' && mapping.heads.includes(light)
        ? [[of, mappingTitle(show, of)]]
        : [],
    );
    const told = { performer: undefined, mapping: undefined };
    const choosers = all.filter(one => one.light === light && one.choice.rule.kind !== 'middle');
    return { light, name, choosers, titles: new Map(by), told };
  });
  return { all, lights, pools: createPools(all), turn: 0, pinned: new Map() };
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
 * Whom the heads are on: only believed performers may be chosen. A head goes to somebody else in the dark, unless the
 * show says otherwise. Runs before `stepDrives`, which takes the trust of whoever is chosen.
 * @param fades of the last tick
 */
export function choose(choices: Choices, seen: Seen, dtS: number, events: EngineEvent[]): void {
  tellPins(choices, events);
  for (const one of choices.all) {
    one.forS += dtS;
    if (one.choice.rule.kind === 'middle') holdAll(one, seen, dtS);
    else if (one.choice.rule.kind === 'nearest') one.wanted = nearest(one, seen);
    else if (one.choice.rule.kind === 'first') one.wanted = first(one, seen, dtS);
    if (one.pinned >= 0 && one.choice.rule.kind !== 'middle') one.wanted = byOrder(one, seen);
  }
  sharePools(choices, seen);
  for (const one of choices.all) {
    if (one.rests || one.choice.rule.kind === 'middle') continue;
    goOver(choices, one, seen, dtS);
  }
  for (const one of choices.lights) {
    seen.lights.onNobody[one.light] = isFree(one, seen) ? 1 : 0;
    tell(one, seen, events);
  }
}

function nearest(one: Chooser, seen: Seen): number {
  const { choice, current, forS } = one;
  if (choice.rule.kind !== 'nearest') return -1;
  const { to } = choice.rule;
  const goal = goalOf(to, seen);
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

/** Who has been in the zone for longest. */
function first(one: Chooser, seen: Seen, dtS: number): number {
  const { choice, insideS, current } = one;
  if (choice.rule.kind !== 'first') return -1;
  const presences = seen.presences.zones[choice.rule.zone]?.presences;
  let best = -1;
  for (let i = 0; i < choice.people.length; i++) {
    const level = presences?.[choice.people[i] as number]?.level ?? 0;
    const isIn = believed(one, seen, i) && level >= 0.5;
    // Somebody who was lost in the zone may still be there: later arrivals don't come first until that light is dark.
    insideS[i] = isIn ? (insideS[i] as number) + dtS : 0;
    if (isIn && (best < 0 || (insideS[i] as number) > (insideS[best] as number))) best = i;
  }
  if (current >= 0 && believed(one, seen, current) && (insideS[current] as number) > 0) {
    return current;
  }
  return best;
}

/** Goes to somebody else as soon as it can. */
function goOver(choices: Choices, one: Chooser, seen: Seen, dtS: number): void {
  const { wanted, current, of, light, choice } = one;
  const { aims, fades, lights } = seen;
  if (wanted === current) {
    one.waitsS = 0;
    return;
  }
  if (wanted < 0) {
    if (waitsFor(choices, one, seen, dtS)) return;
    // Nobody to be on. If they were lost it stays theirs, at its safe look as usual, until they are back or there is
    // somebody else.
    if (believed(one, seen, current) || (isOff(one, seen, current) && !shows(one, seen)))
      release(one);
    return;
  }
  const acts = aims.followedBy[light] === of;
  const stage = stageOf(one, seen);
  if (!acts || stage === 'to-live' || stage === 'safe' || stage === 'to-safe') {
    take(one, seen);
    return;
  }
  if (stage === 'fading') return;
  // Just lost: it goes dark over the fade of that loss.
  if (current >= 0 && !believed(one, seen, current)) return;
  if (choice.change === 'lit' && current >= 0) {
    take(one, seen);
    return;
  }
  if (waitsFor(choices, one, seen, dtS)) return;
  beginTurns(fades, [light], lights);
}

/**
 * It crosses over: it stays on its performer until another head shows them. Heads that only swap would wait for each
 * other: the one whose light is worst goes first, in the dark, and the others cross over after it.
 */
function waitsFor(choices: Choices, one: Chooser, seen: Seen, dtS: number): boolean {
  const { choice, current, light } = one;
  if (choice.change !== 'cross' || current < 0 || !believed(one, seen, current)) return false;
  one.waitsS += dtS;
  if (one.waitsS >= LONGEST_CROSS_S || !isLit(seen.lights, light)) return false;
  return takesOver(choices, one, seen) !== undefined && !goesFirst(choices, one, seen);
}

/** The head that will take over its performer, and does not show them yet. */
function takesOver({ all }: Choices, one: Chooser, seen: Seen): Chooser | undefined {
  const { choice, current } = one;
  for (const other of all) {
    if (other === one || other.wanted !== current) continue;
    if (other.choice.rule.kind !== 'share' || choice.rule.kind !== 'share') continue;
    if (other.choice.rule.pool !== choice.rule.pool) continue;
    const stage = stageOf(other, seen);
    if (other.current !== current || (stage !== 'rising' && stage !== 'live')) return other;
  }
  return undefined;
}

/** Among heads that wait for each other in a ring. */
function goesFirst(choices: Choices, one: Chooser, seen: Seen): boolean {
  const ring: Chooser[] = [one];
  let next = takesOver(choices, one, seen);
  while (next !== one) {
    if (next === undefined || ring.includes(next)) return false;
    ring.push(next);
    next = takesOver(choices, next, seen);
  }
  const underWay = ring.find(each => !['live', 'rising'].includes(stageOf(each, seen)));
  if (underWay !== undefined) return underWay === one;
  const cost = costOf(one, seen, one.current);
  return ring.every(each => {
    if (each === one) return true;
    const its = costOf(each, seen, each.current);
    return its < cost || (its === cost && each.light > one.light);
  });
}

function isOff({ choice: { people } }: Chooser, { watched }: Seen, i: number): boolean {
  return watched.performers[people[i] ?? -1]?.offStage === true;
}

function release(one: Chooser): void {
  one.drive.isFree = true;
  one.current = -1;
  one.forS = 0;
}

/** Puts it on them. */
function take(one: Chooser, { aims, lights }: Seen): void {
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

/**
 * A head that chooses by another mapping in the next cue, with the same rule and people, stays on the same performer,
 * and its times run on.
 * @param from index of a mapping; `to` another one
 * @returns whether both choose alike, or neither chooses
 */
export function goOnChoosing(
  { all }: Choices,
  light: number,
  from: number,
  to: number,
  aims: Aims,
  lights: Lights,
): boolean {
  const choosing = (of: number) => all.find(one => one.light === light && one.of === of);
  const [was, next] = [choosing(from), choosing(to)];
  if (was === undefined || next === undefined) return was === next;
  if (was.current < 0 || !choosesAlike(was.choice, next.choice)) return false;
  if (was.choice.rule.kind === 'middle') return true;
  settleOn(next, was.current, aims, lights);
  next.forS = was.forS;
  next.insideS.set(was.insideS);
  return true;
}

function choosesAlike(a: FollowChoice, b: FollowChoice): boolean {
  // Each `share` mapping is a pool of its own.
  const rule = ({ rule: one }: FollowChoice) => (one.kind === 'share' ? one.kind : one);
  return JSON.stringify([rule(a), a.people]) === JSON.stringify([rule(b), b.people]);
}

/** By the mapping by which it follows in this cue. */
function isFree({ light, choosers }: ChoosingLight, { aims }: Seen): boolean {
  const of = aims.followedBy[light] as number;
  for (const one of choosers) if (one.of === of) return isOnNobody(one.drive);
  return false;
}

/** For a head that has other choosers in other cues, the one that acts now. */
function tell(one: ChoosingLight, { aims }: Pick<Seen, 'aims'>, events: EngineEvent[]): void {
  const { light, name, told, titles, choosers } = one;
  const of = aims.followedBy[light] as number;
  let chooser: Chooser | undefined;
  for (const choosing of choosers) if (choosing.of === of) chooser = choosing;
  const performer = chooser?.follows[chooser.current]?.name;
  const mapping = chooser === undefined ? titles.get(of) : undefined;
  if (performer === told.performer && mapping === told.mapping) return;
  one.told = { performer, mapping };
  const previous = told.performer;
  const by = mapping === undefined ? {} : { mapping };
  events.push({ kind: 'hand-over', fixture: name, performer, previous, ...by });
}

/**
 * After a reload, a head that is on somebody whom it may still be on starts on them.
 * @param performers names of the performers of the old show
 * @param mappings for each of the next show its place in the old one
 */
export function takeChoices(
  next: Choices,
  old: Choices,
  show: Show,
  performers: readonly string[],
  mappings: Places,
  { aims, lights }: Pick<Seen, 'aims' | 'lights'>,
): void {
  for (const [fixture, to] of old.pinned) next.pinned.set(fixture, to);
  for (const one of next.lights) {
    const was = old.lights.find(({ name }) => name === one.name);
    if (was !== undefined) one.told = was.told;
  }
  takePins(next, old, show, performers);
  const before = new Map<Chooser, Chooser>();
  for (const one of next.all) {
    const was =
      old.all.find(({ of }) => of === mappings[one.of]) ??
      old.all.find(
        ({ plan, choice }) =>
          plan.name === one.plan.name && choice.rule.kind === one.choice.rule.kind,
      );
    if (was === undefined || was.choice.rule.kind !== one.choice.rule.kind) continue;
    before.set(one, was);
    takeChooser(one, was, show, performers, aims, lights);
  }
  for (const pool of next.pools) takePool(pool, old.pools, before);
  if (next.pools.length === old.pools.length) next.turn = old.turn;
}

function takeChooser(
  one: Chooser,
  was: Chooser,
  show: Show,
  performers: readonly string[],
  aims: Aims,
  lights: Lights,
): void {
  const placeOfOld = (p: number | undefined) => placeIn(one, show, performers[p ?? -1]);
  was.choice.people.forEach((p, i) => {
    const place = placeOfOld(p);
    if (place < 0) return;
    one.insideS[place] = was.insideS[i] as number;
    one.weights[place] = was.weights[i] as number;
  });
  // It still shows the last of the performer it was on, and with `middle` it goes on aiming there while all are lost.
  const i = placeOfOld(was.drive.follows);
  if (i < 0) return;
  if (was.choice.rule.kind === 'middle') {
    holdOn(one, one.choice.people[i] as number, aims, lights);
    Object.assign(one.follows[0]?.estimate ?? {}, was.follows[0]?.estimate);
    return;
  }
  settleOn(one, i, aims, lights);
  if (was.current < 0) release(one);
  one.forS = was.forS;
  one.waitsS = was.waitsS;
}

/** With the same heads and people the recent costs still hold. */
function takePool(pool: Pool, old: readonly Pool[], before: ReadonlyMap<Chooser, Chooser>): void {
  const was = old.find(({ heads }) => heads[0] === before.get(pool.heads[0] as Chooser));
  const isSame =
    was !== undefined &&
    was.away.length === pool.away.length &&
    pool.heads.every((head, h) => before.get(head) === was.heads[h]);
  if (!isSame) return;
  pool.turn = was.turn;
  pool.isStale = was.isStale;
  pool.away.set(was.away);
  pool.assignment.columnOf.set(was.assignment.columnOf);
}

/** A pin holds under whatever rule the head has now, if that rule lists the performer; otherwise it is dropped, and reported. */
function takePins(next: Choices, old: Choices, show: Show, performers: readonly string[]): void {
  for (const { plan, choice, pinned } of old.all) {
    if (pinned < 0) continue;
    const performer = performers[choice.people[pinned] ?? -1];
    let holds = false;
    for (const one of next.all) {
      if (one.plan.name !== plan.name || one.choice.rule.kind === 'middle') continue;
      one.pinned = placeIn(one, show, performer);
      if (one.pinned >= 0) holds = true;
    }
    if (!holds) next.pinned.set(plan.name, { performer: undefined, reason: 'reload' });
  }
}

function placeIn({ choice }: Chooser, show: Show, name: string | undefined): number {
  return name === undefined ? -1 : choice.people.findIndex(p => show.performers[p]?.name === name);
}
