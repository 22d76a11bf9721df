import type { SoftEdge } from '../mapping/options.js';
import { type Area, type AreaOptions, compileArea, signedDistanceM } from '../stage/area.js';
import { unreachable } from '../stage/unreachable.js';
import { type Doubts, doubt, type People, restOn, STANDING } from './doubt.js';
import { alongLine, angleBetween, compileLine, type Line } from './geometry.js';
import type { PlacePlan, SignalSource } from './plan.js';
import { type Ranges, setRange } from './ranges.js';
import { wave } from './wave.js';

/** What signals need of a zone. */
export interface SignalZone {
  /** Of one that moves its middle is 0, 0. */
  readonly area: AreaOptions;
  readonly edge: SoftEdge;
  readonly around: number | undefined;
}

/** Of each performer in one zone. */
type PresencesOf = readonly { readonly level: number }[];

/** What the sources look at in a tick. */
export interface Scene {
  readonly people: People;
  /** Of each zone and performer, 0 to 1; of who is not known it is the last. */
  readonly presences: readonly PresencesOf[];
  /** By signal: the last number that came in, and when, monotonic seconds; minus infinity before. */
  readonly numbers: { readonly value: Float64Array; readonly heardS: Float64Array };
  /** Since the first tick, and since the machine's start; seconds. */
  elapsedS: number;
  nowS: number;
  /** How the light goes that rests on an input which is silent, seconds. */
  readonly silentFadeS: number;
}

/** Who is off stage is so far from everything: no range goes there, and sums of it stay finite. */
const FAR_M = 1e6;
/** Slower than this has no direction, m/s: the noise of a tracker at rest has one in every tick. */
const SLOWEST = 0.3;
const { POSITIVE_INFINITY: MOST, NEGATIVE_INFINITY: LEAST } = Number;

interface Place {
  readonly kind: 'performers' | 'point' | 'zone';
  readonly performers: Int32Array;
  readonly x: number;
  readonly y: number;
  readonly z: number | undefined;
  readonly area: Area | undefined;
  /** Whom the zone is around, -1 for nobody. */
  readonly around: number;
}

/** A source with all that a tick would have to look for at hand. */
export type Source =
  | {
      readonly kind: 'presence' | 'count';
      readonly zone: number;
      readonly around: number;
      readonly performers: Int32Array;
      readonly every: boolean;
    }
  | { readonly kind: 'distance'; readonly performers: Int32Array; readonly to: Place }
  | { readonly kind: 'along'; readonly performer: number; readonly line: Line }
  | {
      readonly kind: 'across';
      readonly performer: number;
      readonly around: number;
      readonly directionX: number;
      readonly directionY: number;
      readonly fromM: number;
      readonly toM: number;
    }
  | { readonly kind: 'height' | 'speed'; readonly performers: Int32Array }
  | {
      readonly kind: 'heading';
      readonly performer: number;
      readonly towards: Place | undefined;
      readonly directionX: number;
      readonly directionY: number;
      /** Of the last movement that had a direction; NaN before. */
      lastX: number;
      lastY: number;
    }
  | { readonly kind: 'osc'; readonly timeoutS: number }
  | {
      readonly kind: 'wave';
      readonly shape: Extract<SignalSource, { kind: 'wave' }>['shape'];
      readonly periodS: number;
      readonly phase: number;
    };

/** Sources that ask the stage, and not other signals or conditions. */
export type LeafSource = Exclude<
  SignalSource,
  { kind: 'time' | 'product' | 'sum' | 'least' | 'greatest' | 'inverse' }
>;

export function compileSource(plan: LeafSource, zones: readonly SignalZone[]): Source {
  const aroundOf = (zone: number) => zones[zone]?.around ?? -1;
  switch (plan.kind) {
    case 'presence':
    case 'count':
      return {
        kind: plan.kind,
        zone: plan.zone,
        around: aroundOf(plan.zone),
        performers: Int32Array.from(plan.performers),
        every: plan.kind === 'presence' && plan.every,
      };
    case 'distance':
      return {
        kind: 'distance',
        performers: Int32Array.from(plan.performers),
        to: compilePlace(plan.to, zones),
      };
    case 'along':
      return { kind: 'along', performer: plan.performer, line: compileLine(plan.line) };
    case 'across':
      return { ...plan, around: aroundOf(plan.zone) };
    case 'height':
    case 'speed':
      return { kind: plan.kind, performers: Int32Array.from(plan.performers) };
    case 'heading': {
      const { performer, towards } = plan;
      const isDirection = towards.kind === 'direction';
      return {
        kind: 'heading',
        performer,
        towards: isDirection ? undefined : compilePlace(towards, zones),
        directionX: isDirection ? Math.cos(towards.angle) : 0,
        directionY: isDirection ? Math.sin(towards.angle) : 0,
        lastX: Number.NaN,
        lastY: Number.NaN,
      };
    }
    case 'osc':
      return { kind: 'osc', timeoutS: plan.timeoutS };
    case 'wave':
      return { ...plan };
    default:
      return unreachable(plan);
  }
}

function compilePlace(plan: PlacePlan, zones: readonly SignalZone[]): Place {
  const nowhere = { x: 0, y: 0, z: undefined, area: undefined, around: -1 };
  switch (plan.kind) {
    case 'performers':
      return { ...nowhere, kind: plan.kind, performers: Int32Array.from(plan.performers) };
    case 'point':
      return { ...nowhere, ...plan, z: plan.z, performers: new Int32Array(0) };
    case 'zone': {
      const zone = zones[plan.zone] as SignalZone;
      return {
        ...nowhere,
        kind: plan.kind,
        performers: new Int32Array(0),
        area: compileArea(zone.area),
        around: zone.around ?? -1,
      };
    }
    default:
      return unreachable(plan);
  }
}

/**
 * What the source is, or may be where somebody on whom it rests is lost, in its own unit.
 * @param at index of the signal: where the range and the doubts go
 */
export function look(
  source: Source,
  scene: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  switch (source.kind) {
    case 'presence':
      if (source.every) lookEvery(source, scene, ranges, doubts, at);
      else lookAny(source, scene, ranges, doubts, at);
      break;
    case 'count':
      lookCount(source, scene, ranges, doubts, at);
      break;
    case 'distance':
      lookDistance(source, scene, ranges, doubts, at);
      break;
    case 'along':
      lookAlong(source, scene, ranges, doubts, at);
      break;
    case 'across':
      lookAcross(source, scene, ranges, doubts, at);
      break;
    case 'height':
      lookGreatest(source.performers, heightOf, LEAST, scene, ranges, doubts, at);
      break;
    case 'speed':
      lookGreatest(source.performers, speedOf, 0, scene, ranges, doubts, at);
      break;
    case 'heading':
      lookHeading(source, scene, ranges, doubts, at);
      break;
    case 'osc':
      lookNumber(source.timeoutS, scene, ranges, doubts, at);
      break;
    case 'wave': {
      const is = wave(source.shape, scene.elapsedS / source.periodS + source.phase);
      setRange(ranges, at, is, is);
      break;
    }
    default:
      unreachable(source);
  }
}

type PresenceSource = Extract<Source, { kind: 'presence' | 'count' }>;

/** Who the zone is around is lost: it may be anywhere, and anybody in it. */
function isAdrift(doubts: Doubts, at: number, people: People, around: number): boolean {
  return around >= 0 && restOn(doubts, at, people, around) === STANDING.lost;
}

function lookAny(
  { zone, around, performers }: PresenceSource,
  { people, presences }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const adrift = isAdrift(doubts, at, people, around);
  const isGone = isAway(people, around);
  const there = presences[zone] as PresencesOf;
  let from = 0;
  let to = 0;
  if (people.areAllThere) doubts.known[at] = 1;
  for (let i = 0; i < performers.length; i++) {
    const p = performers[i] as number;
    const standing = people.areAllThere ? STANDING.known : restOn(doubts, at, people, p);
    if (standing === STANDING.away || isGone) continue;
    if (standing === STANDING.lost || adrift) to = 1;
    else {
      const { level } = there[p] as PresencesOf[number];
      if (level > from) from = level;
    }
  }
  setRange(ranges, at, from, Math.max(from, to));
}

function lookEvery(
  { zone, around, performers }: PresenceSource,
  { people, presences }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const adrift = isAdrift(doubts, at, people, around);
  const isGone = isAway(people, around);
  const there = presences[zone] as PresencesOf;
  let [from, to] = [1, 1];
  for (let i = 0; i < performers.length; i++) {
    const p = performers[i] as number;
    const standing = restOn(doubts, at, people, p);
    if (standing === STANDING.away || isGone) to = 0;
    else if (standing === STANDING.lost || adrift) from = 0;
    else to = Math.min(to, (there[p] as PresencesOf[number]).level);
  }
  setRange(ranges, at, Math.min(from, to), to);
}

/** Half in counts as in. */
const HALF = 0.5;

function lookCount(
  { zone, around, performers }: PresenceSource,
  { people, presences }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const adrift = isAdrift(doubts, at, people, around);
  const isGone = isAway(people, around);
  const there = presences[zone] as PresencesOf;
  let from = 0;
  let to = 0;
  if (people.areAllThere) doubts.known[at] = 1;
  for (let i = 0; i < performers.length; i++) {
    const p = performers[i] as number;
    const standing = people.areAllThere ? STANDING.known : restOn(doubts, at, people, p);
    if (standing === STANDING.away || isGone) continue;
    if (standing === STANDING.lost || adrift) to += 1;
    else if ((there[p] as PresencesOf[number]).level >= HALF) {
      from += 1;
      to += 1;
    }
  }
  setRange(ranges, at, from, to);
}

function lookDistance(
  { performers, to }: Extract<Source, { kind: 'distance' }>,
  scene: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  // The nearest: who is lost may be at hand, and can't take the others away.
  let nearestM = FAR_M;
  let isLost = false;
  for (const p of performers) {
    const standing = restOn(doubts, at, scene.people, p);
    if (standing === STANDING.lost) isLost = true;
    const isAt = standing === STANDING.known;
    if (to.kind === 'performers') {
      for (const other of to.performers) {
        if (other === p) continue;
        const theirs = restOn(doubts, at, scene.people, other);
        if (theirs === STANDING.lost) isLost = true;
        if (!isAt || theirs !== STANDING.known) continue;
        nearestM = Math.min(nearestM, betweenM(scene.people, p, other));
      }
    } else if (isAdrift(doubts, at, scene.people, to.around)) isLost = true;
    else if (isAt && !isAway(scene.people, to.around)) {
      nearestM = Math.min(nearestM, distanceTo(to, scene.people, p));
    }
  }
  if (!isLost) setRange(ranges, at, nearestM, nearestM);
  else setRange(ranges, at, 0, nearestM === FAR_M ? MOST : nearestM);
}

function isAway(people: People, around: number): boolean {
  return around >= 0 && people.standing[around] === STANDING.away;
}

function betweenM({ x, y }: People, a: number, b: number): number {
  const dx = (x[a] as number) - (x[b] as number);
  const dy = (y[a] as number) - (y[b] as number);
  return Math.sqrt(dx * dx + dy * dy);
}

/** From a performer to a point, or to the nearest edge of an area; metres, 0 inside. */
function distanceTo({ area, around, x, y, z }: Place, people: People, p: number): number {
  const [px, py, pz] = [people.x[p] as number, people.y[p] as number, people.z[p] as number];
  if (area !== undefined) {
    const cx = around < 0 ? 0 : (people.x[around] as number);
    const cy = around < 0 ? 0 : (people.y[around] as number);
    return Math.max(0, signedDistanceM(area, px - cx, py - cy, pz));
  }
  const [dx, dy, dz] = [px - x, py - y, z === undefined ? 0 : pz - z];
  return Math.sqrt(dx * dx + dy * dy + dz * dz);
}

function lookAlong(
  { performer, line }: Extract<Source, { kind: 'along' }>,
  { people }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const standing = restOn(doubts, at, people, performer);
  if (standing === STANDING.lost) setRange(ranges, at, 0, line.lengthM);
  else if (standing === STANDING.known) {
    const alongM = alongLine(line, people.x[performer] as number, people.y[performer] as number);
    setRange(ranges, at, alongM, alongM);
  } else stay(ranges, at, 0, line.lengthM);
}

/** Who has left has no place: it stays what it was, or the middle of what it may be where that was not known. */
function stay(ranges: Ranges, at: number, from: number, to: number): void {
  const was = ranges.lo[at] as number;
  const is = ranges.hi[at] === was ? was : (from + to) / 2;
  setRange(ranges, at, is, is);
}

function lookAcross(
  { performer, around, directionX, directionY, fromM, toM }: Extract<Source, { kind: 'across' }>,
  scene: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const { people } = scene;
  const standing = restOn(doubts, at, people, performer);
  if (isAdrift(doubts, at, scene.people, around) || standing === STANDING.lost) {
    setRange(ranges, at, 0, 1);
  } else if (standing === STANDING.away || isAway(scene.people, around)) stay(ranges, at, 0, 1);
  else {
    const cx = around < 0 ? 0 : (people.x[around] as number);
    const cy = around < 0 ? 0 : (people.y[around] as number);
    const dx = (people.x[performer] as number) - cx;
    const dy = (people.y[performer] as number) - cy;
    const share = (dx * directionX + dy * directionY - fromM) / (toM - fromM);
    const is = Math.min(1, Math.max(0, share));
    setRange(ranges, at, is, is);
  }
}

function heightOf({ z }: People, p: number): number {
  return z[p] as number;
}

function speedOf({ vx, vy }: People, p: number): number {
  const [x, y] = [vx[p] as number, vy[p] as number];
  return Math.sqrt(x * x + y * y);
}

/** @param nobody what it is where all have left; and the least that it may be */
function lookGreatest(
  performers: Int32Array,
  of: (people: People, p: number) => number,
  nobody: number,
  { people }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  let greatest = nobody;
  let isLost = false;
  for (const p of performers) {
    const standing = restOn(doubts, at, people, p);
    if (standing === STANDING.lost) isLost = true;
    else if (standing === STANDING.known) greatest = Math.max(greatest, of(people, p));
  }
  // Nobody is there whose height it could be: that of the floor.
  if (!isLost && greatest === LEAST) greatest = 0;
  setRange(ranges, at, greatest, isLost ? MOST : greatest);
}

function lookHeading(
  source: Extract<Source, { kind: 'heading' }>,
  scene: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const { people } = scene;
  const { performer: p, towards } = source;
  const standing = restOn(doubts, at, people, p);
  const adrift = towards !== undefined && isPlaceLost(towards, scene, doubts, at);
  if (standing === STANDING.lost || adrift) {
    setRange(ranges, at, 0, Math.PI);
    return;
  }
  if (standing === STANDING.known && speedOf(people, p) >= SLOWEST) {
    source.lastX = people.vx[p] as number;
    source.lastY = people.vy[p] as number;
  }
  const is = Number.isNaN(source.lastX) ? Math.PI : offTheWay(source, scene);
  setRange(ranges, at, is, is);
}

function isPlaceLost(place: Place, scene: Scene, doubts: Doubts, at: number): boolean {
  let isLost = isAdrift(doubts, at, scene.people, place.around);
  for (const other of place.performers) {
    if (restOn(doubts, at, scene.people, other) === STANDING.lost) isLost = true;
  }
  return isLost;
}

/** How far the last direction of travel is off the one asked about, radians. */
function offTheWay(
  { performer: p, towards, directionX, directionY, lastX, lastY }: HeadingSource,
  { people }: Scene,
): number {
  if (towards === undefined) return angleBetween(lastX, lastY, directionX, directionY);
  const [px, py] = [people.x[p] as number, people.y[p] as number];
  let [x, y] = [towards.x, towards.y];
  if (towards.kind === 'performers') {
    const nearest = nearestOf(towards.performers, people, p);
    if (nearest < 0) return Math.PI;
    [x, y] = [people.x[nearest] as number, people.y[nearest] as number];
  } else if (towards.area !== undefined) {
    const { minX, maxX, minY, maxY } = towards.area;
    // The middle of a zone: its nearest edge is another way with every step.
    x = (minX + maxX) / 2 + (towards.around < 0 ? 0 : (people.x[towards.around] as number));
    y = (minY + maxY) / 2 + (towards.around < 0 ? 0 : (people.y[towards.around] as number));
  }
  if (x === px && y === py) return 0;
  return angleBetween(lastX, lastY, x - px, y - py);
}

type HeadingSource = Extract<Source, { kind: 'heading' }>;

function nearestOf(performers: Int32Array, people: People, p: number): number {
  let [nearest, leastM] = [-1, MOST];
  for (const other of performers) {
    if (other === p || people.standing[other] !== STANDING.known) continue;
    const awayM = betweenM(people, p, other);
    if (awayM < leastM) [nearest, leastM] = [other, awayM];
  }
  return nearest;
}

function lookNumber(
  timeoutS: number,
  { numbers, nowS, silentFadeS }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const silentForS = nowS - (numbers.heardS[at] as number);
  // Written so that what was never heard is silent, however long the timeout.
  if (silentForS < MOST && silentForS <= timeoutS) {
    const is = numbers.value[at] as number;
    doubts.known[at] = 1;
    setRange(ranges, at, is, is);
  } else {
    doubt(doubts, at, silentFadeS);
    setRange(ranges, at, LEAST, MOST);
  }
}
