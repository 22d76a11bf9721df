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
import type { EngineState, Light } from './state.js';

/** Points to aim at -> pan and tilt of the heads, within their limits of speed and acceleration. */
export function aim(state: EngineState, dtS: number): void {
  for (const light of state.heads) {
    const { pointing, follow, retreat } = light;
    if (pointing === undefined) continue;
    // Fading out, a head holds its aim: the movement waits for the dark.
    if (retreat.stage === 'fading') haltHead(pointing);
    else if (follow !== undefined) aimFollow(state, light, pointing, follow, dtS);
    else aimFixed(state, light, pointing, dtS);
  }
}

function aimFollow(
  state: EngineState,
  light: Light,
  pointing: Pointing,
  follow: Follow,
  dtS: number,
): void {
  const { retreat, live, plan } = light;
  // On its way to the safe aim, and there, it is the guard's.
  if (retreat.stage === 'to-safe' || retreat.stage === 'safe') return;
  const performer = state.performers[follow.performer];
  if (performer === undefined || !performer.follows) return;
  const dark = retreat.stage === 'to-live';
  const { estimate, offset, optics } = follow;
  // Ahead of the movement, and no farther than anybody would call still on the performer.
  const share = leadTimeS(follow);
  const x = estimate.x + offset.x + share * estimate.vx;
  const y = estimate.y + offset.y + share * estimate.vy;
  const z = estimate.z + offset.z;
  followTarget(pointing, x, y, z, estimate.vx, estimate.vy, estimate.vz, dtS, dark);
  if (optics !== undefined) adjustOptics(optics, live, throwTo(pointing, x, y, z), dtS);
  live[plan.panChannel] = degreesOf(pointing, POINTING.pan);
  live[plan.tiltChannel] = degreesOf(pointing, POINTING.tilt);
  if (pointing.wantsDark) {
    if (dark) chooseWayTo(pointing, follow);
    else if (turnInTheDark(state, light)) {
      const panDeg = toDegrees(pointing.numbers[POINTING.goalPan] as Radians);
      state.events.push({ kind: 'turn', fixture: plan.name, performer: performer.name, panDeg });
    }
  }
  if (pointing.reachable !== follow.saidReachable) {
    follow.saidReachable = pointing.reachable;
    state.events.push({
      kind: 'reach',
      fixture: plan.name,
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
function aimFixed(state: EngineState, light: Light, pointing: Pointing, dtS: number): void {
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

export function degreesOf({ numbers }: Pointing, at: number): number {
  return toDegrees(numbers[at + AXIS.position] as Radians);
}
