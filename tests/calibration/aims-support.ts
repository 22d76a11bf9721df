import {
  type AimNoise,
  type AimSample,
  aimTerm,
  headOfPose,
  type Pose,
} from '../../src/calibration/aim-model.js';
import { Symmetric } from '../../src/calibration/symmetric.js';
import { aimAt, compileHead, type Head, panTilt } from '../../src/fixtures/kinematics.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';
import { rotationFromTurns } from '../../src/stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../../src/stage/units.js';
import { type Bounds, vec3 } from '../../src/stage/vector.js';

export const deg = (value: number): Radians => toRadians(value as Degrees);

/** The stage of the measures: 10 x 8 m. */
export const STAGE: Bounds = { min: vec3(0, 0, -0.5), max: vec3(10, 8, 3) };
export const NOISE: AimNoise = { reading: deg(0.2), pointM: 0.03 };
export const EXACT: AimNoise = { reading: 0, pointM: 0 };

export type Place = readonly [x: number, y: number, z: number];

/** Well spread: the corners of the stage, and the middle at another height. */
export const FIVE: readonly Place[] = [
  [0, 0, 0],
  [10, 0, 0],
  [10, 8, 0],
  [0, 8, 0],
  [5, 4, 2],
];
/** The corners, each on the floor and above it. */
export const EIGHT: readonly Place[] = [
  ...FIVE.slice(0, 4),
  [0, 0, 2],
  [10, 0, 2],
  [10, 8, 2],
  [0, 8, 2],
];

export function poseAt(position: Place, turns: Place, tiltTrim = 0): Pose {
  const [x, y, z] = turns;
  return {
    position: vec3(...position),
    rotation: rotationFromTurns(deg(x), deg(y), deg(z)),
    tiltTrim: deg(tiltTrim),
  };
}

/** A head that turns all round, so that every point is in reach. */
export function turningHead({ position, rotation }: Pose): Head {
  return compileHead({
    position,
    rotation,
    panRange: [deg(-270), deg(270)],
    tiltRange: [deg(-180), deg(180)],
  });
}

/** What a head in this pose reads when it aims at the places; both with noise. */
export function aims(pose: Pose, places: readonly Place[], noise: AimNoise, seed = 1): AimSample[] {
  const normal = seededNormal(seed);
  const head = turningHead(pose);
  return places.map(([x, y, z], i) => {
    const { pan, tilt } = aimAt(head, x, y, z, 0, 0, panTilt());
    return {
      label: `sample ${i + 1}`,
      pan: (pan + noise.reading * normal()) as Radians,
      tilt: (tilt - pose.tiltTrim + noise.reading * normal()) as Radians,
      point: vec3(
        x + noise.pointM * normal(),
        y + noise.pointM * normal(),
        z + noise.pointM * normal(),
      ),
    };
  });
}

/** Cramer-Rao bound of the pose: the inverse of the information of exact samples at the true pose. */
export function bound(pose: Pose, places: readonly Place[], noise: AimNoise): Symmetric {
  const information = new Symmetric(6);
  const head = headOfPose(pose);
  for (const sample of aims(pose, places, EXACT)) {
    const term = aimTerm(pose, head, sample, noise, { position: true, trim: false });
    information.addOuter(term.jacobian[0], 1 / term.variance[0]);
    information.addOuter(term.jacobian[1], 1 / term.variance[1]);
  }
  const inverse = information.inverse();
  if (inverse === undefined) throw new Error('a degenerate set');
  return inverse;
}
