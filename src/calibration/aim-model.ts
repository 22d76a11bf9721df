import { beamDirection, compileHead, type Head } from '../fixtures/kinematics.js';
import type { Rotation } from '../stage/rotation.js';
import type { Radians } from '../stage/units.js';
import { type Vec3, vec3 } from '../stage/vector.js';

/** One aim: the pan and tilt that the head was sent, and the stage point in the middle of its beam. */
export interface AimSample {
  readonly label: string;
  /** Pan and tilt as the profile counts them, without any trim of the fixture. */
  readonly pan: Radians;
  readonly tilt: Radians;
  readonly point: Readonly<Vec3>;
}

/** Where a head hangs, and the trim that has to be added to its tilt. */
export interface Pose {
  readonly position: Readonly<Vec3>;
  readonly rotation: Rotation;
  readonly tiltTrim: number;
}

/** How accurate the samples are: standard deviations. */
export interface AimNoise {
  /** Of each pan and tilt that was read or set, radians. */
  readonly reading: number;
  /** Of one axis of the stage point, metres: from the tape or the tracker, and from judging the middle of the beam. */
  readonly pointM: number;
}

/**
 * Which parts of a pose are solved. The parameters are small changes, in this order: position (metres),
 * orientation (turns about the stage axes, radians), trim of the tilt (radians).
 */
export interface Free {
  readonly position: boolean;
  readonly trim: boolean;
}

export function freeCount({ position, trim }: Free): number {
  return (position ? 3 : 0) + 3 + (trim ? 1 : 0);
}

/** Degrees of freedom: two numbers for each sample, less the free parameters. */
export function freedomOf(samples: readonly AimSample[], free: Free): number {
  return 2 * samples.length - freeCount(free);
}

/**
 * One sample at one pose: how far the direction to the point is off the beam, in the two directions
 * across the beam, along pan and along tilt:
 *
 *   u = (point - position) / d,   r = (e_pan . u, e_tilt . u)
 *
 * where e_tilt is the way the beam moves when the tilt grows, and e_pan is across it. A small turn w of the
 * head takes e to e + w x e, a shift s takes u to u - (s - (s.u) u) / d, and a growing tilt takes e_tilt
 * towards -beam: that gives the Jacobian. An error of the pan moves the beam by sin(tilt) times the error,
 * and an error of the point by 1/d times the error: that gives the variances.
 */
export interface AimTerm {
  readonly residual: readonly [number, number];
  /** One row for pan and one for tilt; a column for each free parameter. */
  readonly jacobian: readonly [readonly number[], readonly number[]];
  readonly variance: readonly [number, number];
  readonly distanceM: number;
  /** Cosine of the angle between beam and target; negative when the head looks away from it. */
  readonly facing: number;
}

export function headOfPose({ position, rotation }: Pose): Head {
  const [all, none]: [Radians, Radians] = [Math.PI as Radians, -Math.PI as Radians];
  return compileHead({ position, rotation, panRange: [none, all], tiltRange: [none, all] });
}

/** Direction of the beam for the pan and tilt of a sample: a unit vector in the stage frame. */
export function beamOf(
  head: Head,
  { pan, tilt }: Pick<AimSample, 'pan' | 'tilt'>,
  tiltTrim: number,
): Vec3 {
  return direction(head, pan, tilt + tiltTrim);
}

const QUARTER_TURN = Math.PI / 2;

/** @param head `headOfPose(pose)`, computed once for all samples */
export function aimTerm(
  pose: Pose,
  head: Head,
  sample: Pick<AimSample, 'pan' | 'tilt' | 'point'>,
  noise: AimNoise,
  free: Free,
): AimTerm {
  const { pan, point } = sample;
  const tilt = sample.tilt + pose.tiltTrim;
  const beam = direction(head, pan, tilt);
  // The direction a quarter turn further in tilt is the derivative by tilt; the cross product gives the one across.
  const alongTilt = direction(head, pan, tilt + QUARTER_TURN);
  const alongPan = direction(head, pan + QUARTER_TURN, QUARTER_TURN);
  const to = vec3(point.x - pose.position.x, point.y - pose.position.y, point.z - pose.position.z);
  const distanceM = Math.max(1e-6, Math.hypot(to.x, to.y, to.z));
  const u = vec3(to.x / distanceM, to.y / distanceM, to.z / distanceM);
  const facing = dot(beam, u);
  const row = (e: Readonly<Vec3>, byTilt: number): number[] => {
    const along = dot(e, u);
    return [
      ...(free.position
        ? [
            (along * u.x - e.x) / distanceM,
            (along * u.y - e.y) / distanceM,
            (along * u.z - e.z) / distanceM,
          ]
        : []),
      e.y * u.z - e.z * u.y,
      e.z * u.x - e.x * u.z,
      e.x * u.y - e.y * u.x,
      ...(free.trim ? [byTilt] : []),
    ];
  };
  const ofPoint = (noise.pointM / distanceM) ** 2;
  return {
    residual: [dot(alongPan, u), dot(alongTilt, u)],
    jacobian: [row(alongPan, 0), row(alongTilt, -facing)],
    variance: [(Math.sin(tilt) * noise.reading) ** 2 + ofPoint, noise.reading ** 2 + ofPoint],
    distanceM,
    facing,
  };
}

function direction(head: Head, pan: number, tilt: number): Vec3 {
  return beamDirection(head, pan as Radians, tilt as Radians, vec3(0, 0, 0));
}

function dot(a: Readonly<Vec3>, b: Readonly<Vec3>): number {
  return a.x * b.x + a.y * b.y + a.z * b.z;
}
