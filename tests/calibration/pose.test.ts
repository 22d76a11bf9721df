import { levenbergMarquardt } from 'ml-levenberg-marquardt';
import { Euler, Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { type AimSample, aimTerm, headOfPose, type Pose } from '../../src/calibration/aim-model.js';
import { moved, rotationAbout, solvePose } from '../../src/calibration/pose.js';
import { sampleResults } from '../../src/calibration/pose-quality.js';
import { aimAt, beamDirection, panTilt } from '../../src/fixtures/kinematics.js';
import { seededRandom } from '../../src/rehearsal/sensors/random.js';
import { turnsFromRotation } from '../../src/stage/rotation.js';
import { distance, vec3 } from '../../src/stage/vector.js';
import {
  aims,
  bound,
  EIGHT,
  EXACT,
  FIVE,
  NOISE,
  type Place,
  poseAt,
  STAGE,
  turningHead,
} from './aims-support.js';

const FREE = { position: true, trim: false };
const TRIMMED = { position: true, trim: true };
const FROM_NOTHING = { noise: NOISE, free: FREE, now: undefined, bounds: STAGE };

function best(samples: readonly AimSample[], options: Parameters<typeof solvePose>[1]) {
  const [first] = solvePose(samples, options);
  if (first === undefined) throw new Error('no pose');
  return first;
}

describe('the model of an aim', () => {
  test('the Jacobian is that of central differences, near and far from the solution', () => {
    const uniform = seededRandom(3);
    for (let k = 0; k < 50; k++) {
      const turns: Place = [360 * uniform(), 360 * uniform(), 360 * uniform()];
      const truth = poseAt([10 * uniform(), 8 * uniform(), 6], turns, 3 * uniform());
      const pose = moved(truth, [0.3, -0.2, 0.4, 0.1, -0.05, 0.2, 0.02], TRIMMED);
      for (const sample of aims(truth, FIVE, EXACT)) {
        const { jacobian } = aimTerm(pose, headOfPose(pose), sample, NOISE, TRIMMED);
        for (let i = 0; i < 7; i++) {
          const h = 1e-6;
          const at = (by: number) => {
            const change = new Array<number>(7).fill(0);
            change[i] = by;
            const next = moved(pose, change, TRIMMED);
            return aimTerm(next, headOfPose(next), sample, NOISE, TRIMMED).residual;
          };
          const [after, before] = [at(h), at(-h)];
          for (const row of [0, 1] as const) {
            const slope = (after[row] - before[row]) / (2 * h);
            expect(jacobian[row][i]).toBeCloseTo(slope, 7);
          }
        }
      }
    }
  });

  test('small turns are those of three about an axis', () => {
    const axis = new Vector3(0.3, -0.5, 0.2);
    const angle = axis.length();
    const theirs = new Matrix4().makeRotationAxis(axis.clone().normalize(), angle).elements;
    rotationAbout(0.3, -0.5, 0.2).forEach((value, i) => {
      // three keeps columns.
      expect(value).toBeCloseTo(theirs[4 * (i % 3) + Math.floor(i / 3)] ?? Number.NaN, 12);
    });
  });
});

describe('the pose of a head', () => {
  test('comes out exactly of exact aims, from nothing, however it hangs', () => {
    const uniform = seededRandom(5);
    for (let k = 0; k < 40; k++) {
      const turns: Place = [360 * uniform(), 360 * uniform(), 360 * uniform()];
      const truth = poseAt([14 * uniform() - 2, 12 * uniform() - 3, 2.5 + 8 * uniform()], turns);
      const { pose, chiSquare } = best(aims(truth, FIVE, EXACT), FROM_NOTHING);
      expect(distance(pose.position, truth.position), `${k}`).toBeLessThan(1e-5);
      expect(chiSquare).toBeLessThan(1e-6);
    }
  });

  test('standing on the floor, and with a tilt whose zero is off', () => {
    const standing = poseAt([2, 3, 0.4], [180, 0, 30]);
    const high: readonly Place[] = [
      [0, 0, 3],
      [9, 1, 2],
      [8, 7, 2.5],
      [1, 7, 1.5],
      [5, 4, 1],
    ];
    expect(
      distance(best(aims(standing, high, EXACT), FROM_NOTHING).pose.position, standing.position),
    ).toBeLessThan(1e-5);
    const off = poseAt([5, 1, 5], [2, -3, 100], 1.7);
    const { pose } = best(aims(off, EIGHT, EXACT), { ...FROM_NOTHING, free: TRIMMED });
    expect(distance(pose.position, off.position)).toBeLessThan(1e-5);
    expect(pose.tiltTrim).toBeCloseTo(off.tiltTrim, 7);
  });

  test('with a position that is kept, only the orientation moves', () => {
    const truth = poseAt([3, 2, 5], [4, 5, 200]);
    const now = { ...poseAt([3, 2, 5], [0, 0, 0]) };
    const free = { position: false, trim: false };
    const { pose } = best(aims(truth, FIVE.slice(0, 2), EXACT), { ...FROM_NOTHING, free, now });
    expect(pose.position).toEqual(now.position);
    pose.rotation.forEach((value, i) => {
      expect(value).toBeCloseTo(truth.rotation[i as 0], 7);
    });
  });

  test('is the one that an independent solver finds on residuals of its own (ml-levenberg-marquardt, three)', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const uniform = seededRandom(seed);
      const turns: Place = [20 * uniform() - 10, 20 * uniform() - 10, 360 * uniform() - 180];
      const truth = poseAt([10 * uniform(), 8 * uniform(), 6], turns);
      const samples = aims(truth, EIGHT, NOISE, seed);
      const ours = best(samples, FROM_NOTHING);
      const deviations = ours.terms.flatMap(term => term.variance.map(Math.sqrt));
      const { parameterValues } = levenbergMarquardt(
        { x: deviations.map((_, i) => i), y: deviations.map(() => 0) },
        parameters => {
          const all = samples.flatMap(sample => residualByThree(parameters, sample));
          return i => (all[i] ?? 0) / (deviations[i] ?? 1);
        },
        {
          initialValues: startNear(truth),
          damping: 1e-3,
          gradientDifference: 1e-6,
          centralDifference: true,
          improvementThreshold: 1e-12,
          errorTolerance: 1e-12,
          maxIterations: 200,
        },
      );
      const [x = 0, y = 0, z = 0, ...angles] = parameterValues;
      expect(distance(ours.pose.position, vec3(x, y, z)), `seed ${seed}`).toBeLessThan(1e-3);
      const { x: tx, y: ty, z: tz } = turnsFromRotation(ours.pose.rotation);
      const [ax = 0, ay = 0, az = 0] = angles;
      for (const [mine, theirs] of [
        [tx, ax],
        [ty, ay],
        [tz, az],
      ] as const) {
        expect(Math.abs(Math.sin((mine - theirs) / 2)), `seed ${seed}`).toBeLessThan(1e-4);
      }
    }
  });

  function startNear(truth: Pose): number[] {
    const { x, y, z } = turnsFromRotation(truth.rotation);
    const { position: p } = truth;
    return [p.x + 0.2, p.y - 0.2, p.z + 0.1, x + 0.02, y - 0.02, z + 0.03];
  }

  /** Target against beam, along pan and along tilt, with nothing of ours. */
  function residualByThree(
    parameters: readonly number[],
    { pan, tilt, point }: AimSample,
  ): number[] {
    const [x = 0, y = 0, z = 0, ax = 0, ay = 0, az = 0] = parameters;
    const body = new Matrix4().makeRotationFromEuler(new Euler(ax, ay, az, 'ZYX'));
    const yoke = body.clone().multiply(new Matrix4().makeRotationZ(pan));
    const lens = yoke.clone().multiply(new Matrix4().makeRotationX(tilt));
    const to = new Vector3(point.x - x, point.y - y, point.z - z).normalize();
    // When the pan grows, a beam that hangs down from the yoke goes along -x of it; the tilt, along y of the lens.
    const alongPan = new Vector3(-1, 0, 0).transformDirection(yoke);
    const alongTilt = new Vector3(0, 1, 0).transformDirection(lens);
    return [alongPan.dot(to), alongTilt.dot(to)];
  }
});

/**
 * The measures of the calibration: 10 x 8 m stage, heads 6 m up over the stage and to 2 m before it, turned
 * anyhow about the vertical and by up to 5 degrees off it; 0.2 degrees of noise on pan and tilt, 0.03 m
 * on each axis of a point. The aim error is the distance between the beam and the point of the floor it is
 * meant for, over the stage, with the angles that the calibrated pose gives: both across the beam and, what is
 * more, along the floor to where the beam meets it.
 */
describe('the measures', () => {
  test.each([
    ['5 samples', FIVE, 0.09],
    ['8 samples', EIGHT, 0.07],
  ] as const)('%s', (_, places, mostM) => {
    const runs = 240;
    const misses: number[] = [];
    const onFloor: number[] = [];
    const offs: number[] = [];
    let [squares, bounds, inside, agreed] = [0, 0, 0, 0];
    for (let seed = 1; seed <= runs; seed++) {
      const uniform = seededRandom(40_000 + seed);
      const turns: Place = [10 * uniform() - 5, 10 * uniform() - 5, 360 * uniform()];
      const truth = poseAt([10 * uniform(), 10 * uniform() - 2, 6], turns);
      const samples = aims(truth, places, NOISE, seed);
      const { pose, covariance, chiSquare, terms } = best(samples, FROM_NOTHING);
      const off = distance(pose.position, truth.position);
      offs.push(off);
      squares += off ** 2;
      bounds += bound(truth, places, NOISE).part([0, 1, 2]).trace();
      const { x, y, z } = truth.position;
      const error = [pose.position.x - x, pose.position.y - y, pose.position.z - z];
      const inverse = covariance?.part([0, 1, 2]).inverse();
      // 90 % of chi-square with 3 degrees of freedom.
      if ((inverse?.form(error) ?? Number.POSITIVE_INFINITY) < 6.2514) inside += 1;
      // No sample is taken for wrong that is not.
      const likelihoods = sampleResults({ pose, covariance, chiSquare, terms }, samples);
      if (likelihoods.every(one => one.likelihood > 0.01 / samples.length)) agreed += 1;
      const [real, meant] = [turningHead(truth), turningHead(pose)];
      for (let px = 0; px <= 10; px += 1) {
        for (let py = 0; py <= 8; py += 1) {
          const miss = missAt(real, meant, [px, py, 0]);
          misses.push(miss.across);
          onFloor.push(miss.onFloor);
        }
      }
    }
    const quantile = (values: number[], share: number) =>
      values.sort((a, b) => a - b)[Math.floor(share * values.length)] ?? Number.NaN;
    const ratio = Math.sqrt(squares / bounds);
    const said = [
      `position error / Cramer-Rao bound ${ratio.toFixed(3)}`,
      `position median ${quantile(offs, 0.5).toFixed(3)} m`,
      `aim error p95 ${quantile(misses, 0.95).toFixed(4)} m`,
      `along the floor p95 ${quantile(onFloor, 0.95).toFixed(3)} m`,
      `90 % region holds in ${((100 * inside) / runs).toFixed(1)} %`,
      `no good sample doubted in ${((100 * agreed) / runs).toFixed(1)} %`,
    ].join(', ');
    expect(ratio, said).toBeLessThan(1.15);
    expect(ratio, said).toBeGreaterThan(0.85);
    expect(quantile(misses, 0.95), said).toBeLessThanOrEqual(mostM);
    expect(quantile(onFloor, 0.95), said).toBeLessThanOrEqual(mostM);
    expect(inside / runs, said).toBeGreaterThanOrEqual(0.85);
    expect(inside / runs, said).toBeLessThanOrEqual(0.95);
    expect(agreed / runs, said).toBeGreaterThan(0.97);
  });

  function missAt(
    real: ReturnType<typeof turningHead>,
    meant: ReturnType<typeof turningHead>,
    [x, y, z]: Place,
  ): { readonly across: number; readonly onFloor: number } {
    const { pan, tilt } = aimAt(meant, x, y, z, 0, 0, panTilt());
    const beam = beamDirection(real, pan, tilt, vec3(0, 0, 0));
    const { position: p } = real;
    const [dx, dy, dz] = [x - p.x, y - p.y, z - p.z];
    const along = dx * beam.x + dy * beam.y + dz * beam.z;
    const down = dz / beam.z;
    return {
      across: Math.hypot(dx - along * beam.x, dy - along * beam.y, dz - along * beam.z),
      onFloor: Math.hypot(dx - down * beam.x, dy - down * beam.y),
    };
  }
});
