import { compose, IDENTITY, type Rotation, rotate } from '../stage/rotation.js';
import { type Bounds, distance, type Vec3, vec3 } from '../stage/vector.js';
import {
  type AimNoise,
  type AimSample,
  type AimTerm,
  aimTerm,
  beamOf,
  type Free,
  freeCount,
  headOfPose,
  type Pose,
} from './aim-model.js';
import { bestRotation, minus } from './rigid.js';
import { Symmetric } from './symmetric.js';

export interface SolvedPose {
  readonly pose: Pose;
  /** Sum of the squared residuals, each over its variance. */
  readonly chiSquare: number;
  readonly terms: readonly AimTerm[];
  /** Covariance of the free parameters (metres, radians); undefined if the samples leave one of them open. */
  readonly covariance: Symmetric | undefined;
}

const MOST_STEPS = 60;
/** A smaller step changes nothing: it is a nanometre, or less than a ten-millionth of a degree. */
const SMALL_STEP = 1e-9;

/**
 * Levenberg-Marquardt from one start (Nocedal and Wright, Numerical Optimization, 10.3). The orientation
 * changes by small turns on the rotation manifold: no parametrisation, so no pole. The variances depend a
 * little on the pose, and are taken from the step before (iteratively reweighted).
 */
export function solveFrom(
  start: Pose,
  samples: readonly AimSample[],
  noise: AimNoise,
  free: Free,
): SolvedPose {
  const size = freeCount(free);
  let pose = start;
  let terms = termsOf(pose, samples, noise, free);
  let cost = costOf(terms, terms);
  let damping = 1e-3;
  for (let step = 0; step < MOST_STEPS; step++) {
    const { information, gradient } = normalEquations(terms, size);
    const damped = information.copy();
    for (let i = 0; i < size; i++) {
      damped.set(i, i, information.at(i, i) * (1 + damping) + 1e-12 * information.trace());
    }
    const change = damped.inverse()?.times(gradient.map(value => -value));
    if (change === undefined) break;
    const next = moved(pose, change, free);
    const nextTerms = termsOf(next, samples, noise, free);
    // Both weighted by the present variances: otherwise a step away from the stage would win by making them large.
    const nextCost = costOf(nextTerms, terms);
    if (nextCost <= cost) {
      const small = Math.max(...change.map(Math.abs)) < SMALL_STEP;
      pose = next;
      terms = nextTerms;
      cost = costOf(terms, terms);
      damping = Math.max(1e-12, damping / 5);
      if (small) break;
    } else {
      damping *= 4;
      if (damping > 1e12) break;
    }
  }
  const { information } = normalEquations(terms, size);
  return { pose, chiSquare: cost, terms, covariance: information.inverse() };
}

export function termsOf(
  pose: Pose,
  samples: readonly AimSample[],
  noise: AimNoise,
  free: Free,
): AimTerm[] {
  const head = headOfPose(pose);
  return samples.map(sample => aimTerm(pose, head, sample, noise, free));
}

/** Infinite for a pose with a target behind its beam: there the residual is as small as in front. */
function costOf(terms: readonly AimTerm[], weights: readonly AimTerm[]): number {
  let cost = 0;
  terms.forEach(({ residual, facing }, i) => {
    const [pan, tilt] = weights[i]?.variance ?? [1, 1];
    if (facing <= 0) cost = Number.POSITIVE_INFINITY;
    cost += residual[0] ** 2 / pan + residual[1] ** 2 / tilt;
  });
  return cost;
}

function normalEquations(terms: readonly AimTerm[], size: number) {
  const information = new Symmetric(size);
  const gradient = new Array<number>(size).fill(0);
  for (const { residual, jacobian, variance } of terms) {
    for (const k of [0, 1] as const) {
      information.addOuter(jacobian[k], 1 / variance[k]);
      for (let i = 0; i < size; i++) {
        gradient[i] = (gradient[i] ?? 0) + ((jacobian[k][i] ?? 0) * residual[k]) / variance[k];
      }
    }
  }
  return { information, gradient };
}

/** The pose after small changes of its free parameters, in the order and units of `Free`. */
export function moved(pose: Pose, change: readonly number[], free: Free): Pose {
  const at = free.position ? 3 : 0;
  const [dx = 0, dy = 0, dz = 0] = free.position ? change : [];
  const [wx = 0, wy = 0, wz = 0] = change.slice(at, at + 3);
  return {
    position: vec3(pose.position.x + dx, pose.position.y + dy, pose.position.z + dz),
    rotation: compose(rotationAbout(wx, wy, wz), pose.rotation),
    tiltTrim: pose.tiltTrim + (free.trim ? (change[at + 3] ?? 0) : 0),
  };
}

/** The rotation by |w| radians about w, by Rodrigues' formula. */
export function rotationAbout(wx: number, wy: number, wz: number): Rotation {
  const angle = Math.hypot(wx, wy, wz);
  if (angle === 0) return IDENTITY;
  const [x, y, z] = [wx / angle, wy / angle, wz / angle];
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const v = 1 - c;
  return [
    c + x * x * v,
    x * y * v - z * s,
    x * z * v + y * s,
    x * y * v + z * s,
    c + y * y * v,
    y * z * v - x * s,
    x * z * v - y * s,
    y * z * v + x * s,
    c + z * z * v,
  ];
}

/** The orientation that fits best at a given position: Wahba's problem (SIAM Review 8, 1966). */
function bestOrientation(
  position: Readonly<Vec3>,
  samples: readonly AimSample[],
  tiltTrim: number,
): { readonly rotation: Rotation; readonly missed: number } {
  const unturned = headOfPose({ position, rotation: IDENTITY, tiltTrim });
  const pairs = samples.map(sample => {
    const to = minus(sample.point, position);
    const far = Math.max(1e-6, Math.hypot(to.x, to.y, to.z));
    return {
      stage: vec3(to.x / far, to.y / far, to.z / far),
      tracking: beamOf(unturned, sample, tiltTrim),
    };
  });
  const rotation = bestRotation(pairs);
  const turned = vec3(0, 0, 0);
  const missed = pairs.reduce(
    (sum, { stage, tracking }) => sum + distance(rotate(rotation, tracking, turned), stage) ** 2,
    0,
  );
  return { rotation, missed };
}

export interface SolveOptions {
  readonly noise: AimNoise;
  readonly free: Free;
  /** The pose in the show: the first start, and the only position if it is kept. */
  readonly now: Pose | undefined;
  readonly bounds: Bounds;
}

/** How far around the stage, and how high above its floor, heads are searched, metres. */
const AROUND_M = 6;
const HIGHEST_M = 16;
/** Number of places tried along x and y, and of heights. */
const ACROSS = 7;
const HEIGHTS = 6;
/** How many of the best starts are solved to the end. */
const FOLLOWED = 8;
/** Solutions nearer than this to each other are one. */
const SAME_PLACE_M = 0.05;

/**
 * All the poses that the samples lead to, the best first. It starts from the pose in the show, and from the
 * best of a grid of places around the stage, each with the orientation that fits best there. Heads below
 * the floor are dropped: with a flat floor, the mirror image of a head below it fits just as well.
 */
export function solvePose(
  samples: readonly AimSample[],
  { noise, free, now, bounds }: SolveOptions,
): SolvedPose[] {
  const floorM = Math.min(bounds.min.z, ...samples.map(sample => sample.point.z)) - 0.5;
  const starts: { pose: Pose; missed: number }[] = [];
  const add = (position: Readonly<Vec3>, tiltTrim: number) => {
    const { rotation, missed } = bestOrientation(position, samples, tiltTrim);
    starts.push({ pose: { position, rotation, tiltTrim }, missed });
  };
  if (free.position) {
    for (const x of steps(bounds.min.x - AROUND_M, bounds.max.x + AROUND_M, ACROSS)) {
      for (const y of steps(bounds.min.y - AROUND_M, bounds.max.y + AROUND_M, ACROSS)) {
        for (const z of steps(Math.max(0, bounds.min.z) + 0.5, HIGHEST_M, HEIGHTS)) {
          add(vec3(x, y, z), now?.tiltTrim ?? 0);
        }
      }
    }
    starts.sort((a, b) => a.missed - b.missed);
    starts.splice(FOLLOWED);
  }
  if (now !== undefined) {
    starts.push({ pose: now, missed: 0 });
    add(now.position, now.tiltTrim);
  }
  const ends: SolvedPose[] = [];
  const solved = starts
    .map(({ pose }) => solveFrom(pose, samples, noise, free))
    .filter(one => Number.isFinite(one.chiSquare) && one.pose.position.z > floorM)
    .sort((a, b) => a.chiSquare - b.chiSquare);
  for (const one of solved) {
    if (ends.every(end => distance(end.pose.position, one.pose.position) > SAME_PLACE_M)) {
      ends.push(one);
    }
  }
  return ends;
}

function steps(from: number, to: number, count: number): number[] {
  return Array.from({ length: count }, (_, i) => from + (i * (to - from)) / (count - 1));
}
