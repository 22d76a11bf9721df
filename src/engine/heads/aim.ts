import { AXIS } from '../../fixtures/motion.js';
import {
  chooseWay,
  followTarget,
  haltHead,
  moveHead,
  POINTING,
  type Pointing,
  standsAt,
} from '../../fixtures/pointing.js';
import type { SafeFade } from '../../safety/fade-to-safe.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { mapInParts } from '../../stage/in-parts.js';
import { type Radians, toDegrees } from '../../stage/units.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import type { EngineEvent } from '../events/events.js';
import type { Fades } from '../light/fades.js';
import type { Watched, WatchedPerformer } from '../people/watch.js';
import { estimateFor, type Tracks } from '../reports/tracks.js';
import {
  channelsOf,
  followMappingIn,
  followMappings,
  isLit,
  KIND,
  type Lights,
} from '../values/lights.js';
import { type Follow, followOf } from './follow.js';
import { createHeadScratch, pointingOf, radians, restAt } from './heads.js';
import { adjustOptics, takeOptics } from './optics.js';

/** Where the heads point, and where they are going. */
export interface Aims {
  /** For each light; undefined where it has not both pan and tilt, or follows nobody. */
  readonly pointings: readonly (Pointing | undefined)[];
  /** As the cue wants it, once the head is dark. */
  readonly follows: (Follow | undefined)[];
  /** For each light the mapping by which it follows, -1 for none; and how it would follow by each mapping of any cue. */
  readonly followedBy: Int32Array;
  readonly candidates: readonly Map<number, Follow>[];
  /** Lights that will follow somebody else, or nobody, as soon as they are dark. */
  pending: number[];
  readonly sections: readonly AimSection[];
  /** Lights that have to turn in the dark; the fades take them there. */
  readonly turns: number[];
  /** Aim of the present head. */
  readonly point: Vec3;
}

interface AimSection {
  /** Heads with pan and tilt that some mapping touches. */
  readonly heads: readonly MovingHead[];
  /** Those whose intensity follows the distance to their performer. */
  readonly compensated: readonly number[];
}

/** What the aim of one light with pan and tilt needs in every tick. */
interface MovingHead {
  readonly light: number;
  readonly plan: FixturePlan;
  readonly pointing: Pointing;
  /** Its pan and tilt in the arrays by channel. */
  readonly panAt: number;
  readonly tiltAt: number;
  /** What is wanted of all its channels. */
  readonly wanted: Float64Array;
}

export function* createAims(
  show: Show,
  lights: Lights,
  tracks: Tracks,
): Generator<undefined, Aims> {
  const { fixtures, mappings } = show;
  const scratch = createHeadScratch(fixtures.length);
  const pointings = fixtures.map((plan, light) => pointingOf(plan, light, scratch));
  yield;
  const candidates = yield* mapInParts(
    fixtures,
    (plan, light) =>
      new Map(
        followMappings(mappings, plan, light).map((index): [number, Follow] => [
          index,
          followOf(plan, index, show, (performer, lagS) => estimateFor(tracks, performer, lagS)),
        ]),
      ),
    LIGHTS_IN_A_PART,
  );
  yield;
  const [firstCue] = show.cues;
  const followedBy = Int32Array.from(fixtures, (_, light) =>
    followMappingIn(mappings, firstCue, fixtures, light),
  );
  const headOf = (light: number): MovingHead[] => {
    const [pointing, plan] = [pointings[light], fixtures[light]];
    if (pointing === undefined || plan === undefined) return [];
    if (lights.kind[light] === KIND.idle) return [];
    const first = lights.start[light] as number;
    return [
      {
        light,
        plan,
        pointing,
        panAt: first + plan.panChannel,
        tiltAt: first + plan.tiltChannel,
        wanted: channelsOf(lights, lights.wanted, light),
      },
    ];
  };
  const isCompensated = (light: number) => {
    const isDimmed = (lights.intensity[light] as number) >= 0;
    const all = [...(candidates[light]?.values() ?? [])];
    return isDimmed && all.some(({ optics }) => optics?.options.compensate !== undefined);
  };
  const aims: Aims = {
    pointings,
    follows: candidates.map((all, light) => all.get(followedBy[light] as number)),
    followedBy,
    candidates,
    pending: [],
    sections: lights.sections.map(section => ({
      heads: [...section].flatMap(headOf),
      compensated: [...section].filter(isCompensated),
    })),
    turns: [],
    point: vec3(0, 0, 0),
  };
  dropAims(aims, lights);
  return aims;
}

const LIGHTS_IN_A_PART = 100;

/** Makes a dark head follow by another mapping, or none (-1). */
export function takeFollow(aims: Aims, lights: Lights, light: number, by: number): void {
  const follow = aims.candidates[light]?.get(by);
  const pointing = aims.pointings[light];
  followBy(aims, lights, light, by, follow);
  if (follow !== undefined && pointing !== undefined) chooseWayTo(pointing, follow);
}

function followBy(
  aims: Aims,
  lights: Lights,
  light: number,
  by: number,
  follow: Follow | undefined,
): void {
  aims.followedBy[light] = by;
  aims.follows[light] = follow;
  lights.followed[light] = follow?.performer ?? -1;
  lights.governor[light] = follow?.governor ?? -1;
}

/** Goes on lit, aiming where it does: the other mapping means the same (`meansSame`). */
export function goOnFollowing(aims: Aims, lights: Lights, light: number, by: number): void {
  const [was, follow] = [aims.follows[light], aims.candidates[light]?.get(by)];
  if (was === undefined || follow === undefined) return;
  follow.saidReachable = was.saidReachable;
  follow.otherwiseS = was.otherwiseS;
  if (was.optics !== undefined && follow.optics !== undefined) {
    takeOptics(follow.optics, was.optics);
  }
  followBy(aims, lights, light, by, follow);
}

/**
 * Points to aim at -> pan and tilt of the heads, within their limits of speed and acceleration; zoom, iris, focus
 * and intensity by the distance.
 * @param fades of the last tick
 */
export function aim(
  aims: Aims,
  section: number,
  watched: Watched,
  fades: Fades,
  lights: Lights,
  dtS: number,
  events: EngineEvent[],
): void {
  const { heads, compensated } = aims.sections[section] as AimSection;
  if (aims.turns.length > 0) aims.turns.length = 0;
  for (const head of heads) {
    const { light, pointing } = head;
    const follow = aims.follows[light];
    // Most of the time the light is live, and its fade needs no look.
    const stage = fades.isLive[light] === 1 ? 'live' : (fades.safeFades[light] as SafeFade).stage;
    // Fading out, a head holds its aim: the movement waits for the dark.
    if (stage === 'fading') haltHead(pointing);
    else if (follow === undefined) aimFixed(aims, head, lights, stage, dtS);
    // On the way to the safe aim, and at it, `steer` moves the head.
    else if (stage === 'to-safe' || stage === 'safe') continue;
    else if (lights.onNobody[light] === 1) aimAtNobody(aims, head, lights, stage, dtS);
    else {
      const { follows } = watched.performers[follow.performer] as WatchedPerformer;
      if (follows) aimFollow(aims, head, follow, lights, stage === 'to-live', dtS, events);
    }
  }
  const { asked } = lights;
  for (const light of compensated) {
    const optics = aims.follows[light]?.optics;
    if (optics?.options.compensate === undefined) continue;
    asked[light] = Math.min(optics.fullIntensity, optics.factor * (asked[light] as number));
  }
}

/** @param dark whether it is on its way in the dark */
function aimFollow(
  aims: Aims,
  { light, plan, pointing, panAt, tiltAt, wanted }: MovingHead,
  follow: Follow,
  lights: Lights,
  dark: boolean,
  dtS: number,
  events: EngineEvent[],
): void {
  const { optics } = follow;
  const { vx, vy, vz } = follow.estimate;
  const { sigmaAlongM, sigmaAcrossM } = follow.estimate;
  const { x, y, z } = pointOf(follow, aims.point);
  followTarget(pointing, x, y, z, vx, vy, vz, dtS, dark);
  if (optics !== undefined) {
    const sigmaM = Math.max(sigmaAlongM, sigmaAcrossM);
    adjustOptics(optics, wanted, throwTo(pointing, x, y, z), sigmaM, dtS);
  }
  lights.wanted[panAt] = degreesOf(pointing, POINTING.pan);
  lights.wanted[tiltAt] = degreesOf(pointing, POINTING.tilt);
  if (pointing.wantsDark) {
    if (dark) chooseWayTo(pointing, follow);
    else {
      aims.turns.push(light);
      if (isLit(lights, light)) events.push(turnEvent(plan, pointing, follow));
    }
  }
  // Along an edge it would be reported in every tick.
  follow.otherwiseS = pointing.reachable === follow.saidReachable ? 0 : follow.otherwiseS + dtS;
  if (follow.otherwiseS >= SAID_AFTER_S) {
    follow.saidReachable = pointing.reachable;
    follow.otherwiseS = 0;
    events.push({
      kind: 'reach',
      fixture: plan.name,
      reachable: pointing.reachable,
      missedByDeg: toDegrees(pointing.best.missedBy),
    });
  }
}

function turnEvent(
  { name: fixture }: FixturePlan,
  { numbers, at }: Pointing,
  { name: performer }: Follow,
): EngineEvent {
  const panDeg = toDegrees(numbers[at + POINTING.goalPan] as Radians);
  return { kind: 'turn', fixture, performer, panDeg };
}

/** The point that a head aims at, ahead of the movement; stage frame, metres. @returns out */
export function pointOf(follow: Follow, out: Vec3): Vec3 {
  const { estimate, offset } = follow;
  // No farther than anybody would still call on the performer.
  const share = leadTimeS(follow);
  out.x = estimate.x + offset.x + share * estimate.vx;
  out.y = estimate.y + offset.y + share * estimate.vy;
  out.z = estimate.z + offset.z;
  return out;
}

/** How far ahead of the movement to aim, seconds: a metre at most. */
function leadTimeS({ aheadS, estimate }: Follow): number {
  if (aheadS === 0) return 0;
  const speed = Math.sqrt(estimate.vx * estimate.vx + estimate.vy * estimate.vy);
  return Math.min(aheadS, MOST_AHEAD_M / Math.max(speed, 1e-3));
}

const MOST_AHEAD_M = 1;
/** How long a change of reach has to last before it is reported, seconds. */
const SAID_AFTER_S = 0.5;

/** Metres. */
export function throwTo({ head }: Pointing, x: number, y: number, z: number): number {
  const { position } = head;
  const [dx, dy, dz] = [x - position.x, y - position.y, z - position.z];
  return Math.sqrt(dx * dx + dy * dy + dz * dz);
}

/** Begins a move in the dark. */
function chooseWayTo(pointing: Pointing, { offset, estimate }: Follow): void {
  const { x, y, z, vx, vy, vz } = estimate;
  chooseWay(pointing, x + offset.x, y + offset.y, z + offset.z, vx, vy, vz);
}

/** A head that follows nobody: another aim is a move in the dark. */
function aimFixed(
  { turns }: Aims,
  { light, pointing, panAt, tiltAt }: MovingHead,
  { wanted }: Lights,
  stage: SafeFade['stage'],
  dtS: number,
): void {
  const pan = radians(wanted[panAt] as number);
  const tilt = radians(wanted[tiltAt] as number);
  if (stage === 'to-live') moveHead(pointing, pan, tilt, dtS);
  else if (stage === 'live' || stage === 'rising') {
    if (!standsAt(pointing, pan, tilt)) turns.push(light);
  }
}

/**
 * A head that is on nobody comes to rest, in the dark, where it was going: it is quiet there, and near the people it
 * was on. If its base or another mapping lights it meanwhile, it aims where the base does.
 */
function aimAtNobody(
  aims: Aims,
  head: MovingHead,
  lights: Lights,
  stage: SafeFade['stage'],
  dtS: number,
): void {
  const { light, pointing, panAt, tiltAt } = head;
  pointing.reachable = true;
  if ((lights.asked[light] as number) > 0) {
    aimFixed(aims, head, lights, stage, dtS);
    return;
  }
  const { numbers, at, motion } = pointing;
  const goalPan = numbers[at + POINTING.goalPan] as number;
  const { min, max } = motion.pan;
  const pan = Math.min(max, Math.max(min, goalPan));
  moveHead(pointing, pan, numbers[at + POINTING.goalTilt] as number, dtS);
  lights.wanted[panAt] = degreesOf(pointing, POINTING.pan);
  lights.wanted[tiltAt] = degreesOf(pointing, POINTING.tilt);
}

/**
 * After the guard: heads in a fade are sent where they really are and, from the second tick of a move to the safe
 * aim, towards that aim.
 */
export function steer(
  { sections, follows }: Aims,
  section: number,
  { inHand, safeFades }: Fades,
  { safe, out, onNobody }: Lights,
  dtS: number,
): void {
  for (const { light, pointing, panAt, tiltAt } of (sections[section] as AimSection).heads) {
    if (inHand[light] === 0) continue;
    const follow = onNobody[light] === 1 ? undefined : follows[light];
    const { stage, departed } = safeFades[light] as SafeFade;
    if (stage === 'safe') continue;
    if (departed && stage === 'to-live' && follow !== undefined) chooseWayTo(pointing, follow);
    // Only from the next tick: the last of the light may go out with this one.
    if (stage === 'to-safe' && !departed) {
      moveHead(pointing, radians(safe[panAt] as number), radians(safe[tiltAt] as number), dtS);
    }
    out[panAt] = degreesOf(pointing, POINTING.pan);
    out[tiltAt] = degreesOf(pointing, POINTING.tilt);
  }
}

/** All heads are at their safe aims: the supervisor has taken them there. */
export function dropAims({ pointings }: Pick<Aims, 'pointings'>, lights: Lights): void {
  const { plans, start, safe } = lights;
  pointings.forEach((pointing, light) => {
    if (pointing === undefined) return;
    const { panChannel, tiltChannel } = plans[light] as FixturePlan;
    const first = start[light] as number;
    restAt(pointing, safe[first + panChannel] as number, safe[first + tiltChannel] as number);
  });
}

/** @param axis `POINTING.pan` or `POINTING.tilt` */
function degreesOf({ numbers, at }: Pointing, axis: number): number {
  return toDegrees(numbers[at + axis + AXIS.position] as Radians);
}
