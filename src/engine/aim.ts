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
import type { Estimate } from '../tracking/sighting.js';
import { radians } from './heads.js';
import type { EngineState, Follow, Light } from './state.js';

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
  const { estimate } = performer;
  followEstimate(pointing, follow, estimate, dtS, dark);
  live[plan.panChannel] = degreesOf(pointing, POINTING.pan);
  live[plan.tiltChannel] = degreesOf(pointing, POINTING.tilt);
  if (pointing.wantsDark) {
    if (dark) chooseWayTo(pointing, follow, estimate);
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

function followEstimate(
  pointing: Pointing,
  { offset }: Follow,
  { x, y, z, vx, vy, vz }: Estimate,
  dtS: number,
  dark: boolean,
): void {
  const [atX, atY, atZ] = [x + offset.x, y + offset.y, z + offset.z];
  followTarget(pointing, atX, atY, atZ, vx, vy, vz, dtS, dark);
}

/** At the beginning of a move in the dark. */
export function chooseWayTo(
  pointing: Pointing,
  { offset }: Follow,
  { x, y, z, vx, vy, vz }: Estimate,
): void {
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
