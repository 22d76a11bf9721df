import { AXIS } from '../fixtures/motion.js';
import {
  chooseWay,
  followTarget,
  haltHead,
  moveHead,
  POINTING,
  type Pointing,
  standsAt,
} from '../fixtures/pointing.js';
import { type Radians, toDegrees } from '../stage/units.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import type { Follow } from './follow.js';
import { radians } from './heads.js';
import { adjustOptics } from './optics.js';
import type { EngineSection, EngineState, Light, MovingHead } from './state.js';

/** Points to aim at -> pan and tilt of the heads, within their limits of speed and acceleration. */
export function aim(state: EngineState, { heads }: EngineSection, dtS: number): void {
  const { steady } = state.table;
  for (const head of heads) {
    const { pointing, follow } = head;
    // Most of the time the light is live, and where it is on its way is no matter.
    const stage = steady[head.index] === 1 ? 'live' : head.light.retreat.stage;
    // Fading out, a head holds its aim: the movement waits for the dark.
    if (stage === 'fading') haltHead(pointing);
    else if (follow === undefined) aimFixed(state, head, dtS);
    // On its way to the safe aim, and there, it is the guard's.
    else if (stage !== 'to-safe' && stage !== 'safe')
      aimFollow(state, head, follow, stage === 'to-live', dtS);
  }
}

/** @param dark whether it is on its way in the dark */
function aimFollow(
  state: EngineState,
  { light, pointing, panAt, tiltAt }: MovingHead,
  follow: Follow,
  dark: boolean,
  dtS: number,
): void {
  const performer = state.performers[follow.performer];
  if (performer === undefined || !performer.follows) return;
  const { estimate, offset, optics } = follow;
  const { live } = state.table;
  // Ahead of the movement, and no farther than anybody would call still on the performer.
  const share = leadTimeS(follow);
  const x = estimate.x + offset.x + share * estimate.vx;
  const y = estimate.y + offset.y + share * estimate.vy;
  const z = estimate.z + offset.z;
  followTarget(pointing, x, y, z, estimate.vx, estimate.vy, estimate.vz, dtS, dark);
  if (optics !== undefined) adjustOptics(optics, light.live, throwTo(pointing, x, y, z), dtS);
  live[panAt] = degreesOf(pointing, POINTING.pan);
  live[tiltAt] = degreesOf(pointing, POINTING.tilt);
  if (pointing.wantsDark) {
    if (dark) chooseWayTo(pointing, follow);
    else if (turnInTheDark(state, light)) {
      const panDeg = toDegrees(pointing.numbers[pointing.at + POINTING.goalPan] as Radians);
      state.events.push({
        kind: 'turn',
        fixture: light.plan.name,
        performer: performer.name,
        panDeg,
      });
    }
  }
  if (pointing.reachable !== follow.saidReachable) {
    follow.saidReachable = pointing.reachable;
    state.events.push({
      kind: 'reach',
      fixture: light.plan.name,
      reachable: pointing.reachable,
      missedByDeg: toDegrees(pointing.best.missedBy),
    });
  }
}

/** The point that a head aims at, stage frame; for people, the tick computes it in place. */
export function pointOf(follow: Follow): Vec3 {
  const { estimate, offset } = follow;
  const share = leadTimeS(follow);
  return vec3(
    estimate.x + offset.x + share * estimate.vx,
    estimate.y + offset.y + share * estimate.vy,
    estimate.z + offset.z,
  );
}

/** How far ahead of the movement to aim, seconds: a metre at most. */
function leadTimeS({ aheadS, estimate }: Follow): number {
  if (aheadS === 0) return 0;
  const speed = Math.sqrt(estimate.vx * estimate.vx + estimate.vy * estimate.vy);
  return Math.min(aheadS, MOST_AHEAD_M / Math.max(speed, 1e-3));
}

const MOST_AHEAD_M = 1;

/** Metres. */
export function throwTo({ head }: Pointing, x: number, y: number, z: number): number {
  const { position } = head;
  const [dx, dy, dz] = [x - position.x, y - position.y, z - position.z];
  return Math.sqrt(dx * dx + dy * dy + dz * dz);
}

/** At the beginning of a move in the dark. */
export function chooseWayTo(pointing: Pointing, { offset, estimate }: Follow): void {
  const { x, y, z, vx, vy, vz } = estimate;
  chooseWay(pointing, x + offset.x, y + offset.y, z + offset.z, vx, vy, vz);
}

/** A head that follows nobody: another aim is a move in the dark. */
function aimFixed(state: EngineState, { light, pointing }: MovingHead, dtS: number): void {
  const { retreat, live, plan } = light;
  const pan = radians(live[plan.panChannel] as number);
  const tilt = radians(live[plan.tiltChannel] as number);
  if (retreat.stage === 'to-live') moveHead(pointing, pan, tilt, dtS);
  else if (retreat.stage === 'live' || retreat.stage === 'rising') {
    if (!standsAt(pointing, pan, tilt)) turnInTheDark(state, light);
  }
}

/**
 * Out, over and up again: by way of the stages of a retreat, with times of its own. What gives no light
 * goes at once. @returns whether the light has to go out for it
 */
function turnInTheDark(state: EngineState, light: Light): boolean {
  const { retreat, out, intensity, index } = light;
  const isLit = intensity < 0 || (out[intensity] as number) > 0;
  light.turning = true;
  state.table.steady[index] = 0;
  retreat.stage = 'fading';
  if (!isLit) retreat.live = 0;
  return isLit;
}

/** @param axis `POINTING.pan` or `POINTING.tilt` */
export function degreesOf({ numbers, at }: Pointing, axis: number): number {
  return toDegrees(numbers[at + axis + AXIS.position] as Radians);
}
