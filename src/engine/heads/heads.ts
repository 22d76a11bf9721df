import { compileMotion, type HeadMotion } from '../../fixtures/head-motion.js';
import { compileHead } from '../../fixtures/kinematics.js';
import {
  createPointing,
  POINTING_SIZE,
  type Pointing,
  placeHead,
} from '../../fixtures/pointing.js';
import type { Profile } from '../../fixtures/profile.js';
import type { FixturePlan } from '../../show/model/model.js';
import { IDENTITY } from '../../stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../../stage/units.js';
import { vec3 } from '../../stage/vector.js';

/** What the heads of a show share. */
export interface HeadScratch {
  /** Numbers of all heads, POINTING_SIZE for each fixture of the show. */
  readonly numbers: Float64Array;
  /** Limits by profile, filled as they are met: heads of a kind share them. */
  readonly motions: Map<Profile, HeadMotion>;
}

export function createHeadScratch(fixtures: number): HeadScratch {
  return { numbers: new Float64Array(POINTING_SIZE * fixtures), motions: new Map() };
}

/**
 * Moves the pan and tilt of a fixture within its limits, starting from its safe values; undefined if it lacks one of
 * them. A fixture without a position can't aim at points, but moves like the others.
 * @param index of the fixture in the show
 */
export function pointingOf(
  plan: FixturePlan,
  index: number,
  { numbers, motions }: HeadScratch,
): Pointing | undefined {
  const { profile, panChannel, tiltChannel } = plan;
  const [pan, tilt] = [profile.channels[panChannel], profile.channels[tiltChannel]];
  if (pan === undefined || tilt === undefined) return undefined;
  const head = compileHead(
    plan.head ?? {
      position: vec3(0, 0, 0),
      rotation: IDENTITY,
      panRange: [radians(pan.from), radians(pan.to)],
      tiltRange: [radians(tilt.from), radians(tilt.to)],
    },
  );
  const motion =
    motions.get(profile) ?? compileMotion(head, profile.motion.Pan, profile.motion.Tilt);
  motions.set(profile, motion);
  const pointing = createPointing(head, motion, numbers, POINTING_SIZE * index);
  restAt(pointing, plan.safe[panChannel] ?? 0, plan.safe[tiltChannel] ?? 0);
  return pointing;
}

/** Puts the head at an aim without a move, as after a start: whoever had the light took it there. Degrees. */
export function restAt(pointing: Pointing, pan: number, tilt: number): void {
  placeHead(pointing, radians(pan), radians(tilt));
}

export function radians(degrees: number): Radians {
  return toRadians(degrees as Degrees);
}
