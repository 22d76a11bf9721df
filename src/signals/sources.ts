import { unreachable } from '../stage/unreachable.js';
import { type Doubts, doubt, type People, restOn, STANDING } from './doubt.js';
import { alongLine, compileLine, type Line } from './geometry.js';
import { type HeadingSource, lookHeading, speedOf } from './heading.js';
import { lookAny, lookEvery, type PresenceSource } from './in-zone.js';
import { betweenM, compilePlace, distanceTo, isAdrift, isAway, type Place } from './places.js';
import type { SignalSource } from './plan.js';
import { type Ranges, setRange } from './ranges.js';
import type { Scene, SignalZone } from './scene.js';
import { wave } from './wave.js';

/** Who is off stage is so far from everything: no range goes there, and sums of it stay finite. */
const FAR_M = 1e6;
const { POSITIVE_INFINITY: MOST, NEGATIVE_INFINITY: LEAST } = Number;

/** A source with all that a tick would have to look for at hand. */
export type Source =
  | PresenceSource
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
  | HeadingSource
  /** By OSC, or a slot of the desk. */
  | { readonly kind: 'number'; readonly timeoutS: number }
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
        isOne: membersOf(plan.performers),
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
      return { kind: 'number', timeoutS: plan.timeoutS };
    case 'slot':
      return { kind: 'number', timeoutS: MOST };
    case 'wave':
      return { ...plan };
    default:
      return unreachable(plan);
  }
}

function membersOf(performers: readonly number[]): Uint8Array {
  const isOne = new Uint8Array(Math.max(-1, ...performers) + 1);
  for (const p of performers) isOne[p] = 1;
  return isOne;
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
      lookAny(source, scene, ranges, doubts, at);
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
    case 'number':
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
