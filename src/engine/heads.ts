import { compileMotion, type HeadMotion } from '../fixtures/head-motion.js';
import { compileHead } from '../fixtures/kinematics.js';
import { createPointing, type Pointing, placeHead } from '../fixtures/pointing.js';
import type { Profile } from '../fixtures/profile.js';
import type { FixturePlan } from '../show/model.js';
import { IDENTITY } from '../stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../stage/units.js';
import { vec3 } from '../stage/vector.js';

/**
 * What leads the pan and tilt of a fixture within its limits, from its safe values on; undefined where it
 * lacks one of both. One without a position can't aim at points, but moves like the others.
 * @param motions limits by profile, filled here: heads of a kind share them, for the processor's cache's sake
 */
export function pointingOf(
  plan: FixturePlan,
  motions: Map<Profile, HeadMotion>,
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
  const pointing = createPointing(head, motion);
  restAtSafe(pointing, plan);
  return pointing;
}

/** At its safe aim, as after a start: whoever had the light took it there. */
export function restAtSafe(pointing: Pointing, plan: FixturePlan): void {
  const { safe, panChannel, tiltChannel } = plan;
  placeHead(pointing, radians(safe[panChannel] ?? 0), radians(safe[tiltChannel] ?? 0));
}

export function radians(degrees: number): Radians {
  return toRadians(degrees as Degrees);
}
