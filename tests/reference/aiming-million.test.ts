/**
 * Forward after inverse kinematics over a million random poses and points, and what the slots make of it.
 * The rotation that brings the beam back is three.js' (r187, MIT); a sample of the same poses goes
 * through its whole chain in aiming-three.test.ts.
 */
import { Euler, Matrix4 } from 'three';
import { expect, test } from 'vitest';
import { toPhysical, toRaw } from '../../src/fixtures/encode.js';
import {
  aimAt,
  beamDirection,
  compileHead,
  type Head,
  type HeadOptions,
  panTilt,
} from '../../src/fixtures/kinematics.js';
import { compileChannel } from '../../src/fixtures/profile.js';
import { seededRandom } from '../../src/rehearsal/sensors/random.js';
import { rotationFromTurns } from '../../src/stage/rotation.js';
import { type Degrees, type Radians, toDegrees, toRadians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';

const SEED = 20260113;
const MILLION = 1_000_000;
/** A head is turned anew for every tenth point: what is dear is the turning. */
const POINTS_OF_EACH = 10;
const BOUND_DEGREES = 1e-6;
const rad = (degrees: number): Radians => toRadians(degrees as Degrees);

interface Sample {
  readonly options: HeadOptions;
  readonly turns: readonly [Radians, Radians, Radians];
  readonly point: readonly [number, number, number];
  readonly from: readonly [number, number];
}

/** Any place and turn of a head, for each some points at least a centimetre off and angles to come from. */
function* samples(count: number, pointsOfEach = 1): Generator<Sample> {
  const random = seededRandom(SEED);
  const metres = () => 40 * random() - 20;
  const any = () => ((2 * random() - 1) * Math.PI) as Radians;
  let [turns, options] = poseOf(any, metres);
  for (let i = 0; i < count; i++) {
    if (i > 0 && i % pointsOfEach === 0) [turns, options] = poseOf(any, metres);
    const { position } = options;
    const point = [metres(), metres(), metres()] as const;
    const from = [1.5 * any(), any()] as const;
    if (Math.hypot(point[0] - position.x, point[1] - position.y, point[2] - position.z) < 0.01) {
      continue;
    }
    yield { options, turns, point, from };
  }
}

function poseOf(any: () => Radians, metres: () => number) {
  const turns = [any(), any(), any()] as const;
  const options: HeadOptions = {
    position: vec3(metres(), metres(), metres()),
    rotation: rotationFromTurns(...turns),
    panRange: [rad(-270), rad(270)],
    tiltRange: [rad(-180), rad(180)],
  };
  return [turns, options] as const;
}

/** Angle by the arc tangent, exact for small angles too. */
function degreesBetween(a: readonly number[], b: readonly number[]): number {
  const [ax = 0, ay = 0, az = 0] = a;
  const [bx = 0, by = 0, bz = 0] = b;
  const cross = Math.hypot(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx);
  return toDegrees(Math.atan2(cross, ax * bx + ay * by + az * bz) as Radians);
}

test('forward after inverse is below 1e-6 degrees over a million poses and points', () => {
  const [out, beam] = [panTilt(), vec3(0, 0, 0)];
  let [worst, missed] = [0, 0];
  let head: Head | undefined;
  let last: HeadOptions | undefined;
  for (const { options, point, from } of samples(MILLION, POINTS_OF_EACH)) {
    if (head === undefined || options !== last) head = compileHead(options);
    last = options;
    const { x, y, z } = options.position;
    aimAt(head, ...point, ...from, out);
    if (!out.reachable) missed += 1;
    beamDirection(head, out.pan, out.tilt, beam);
    const toPoint = [point[0] - x, point[1] - y, point[2] - z];
    worst = Math.max(worst, degreesBetween([beam.x, beam.y, beam.z], toPoint));
  }
  expect(missed).toBe(0);
  expect(worst).toBeLessThan(BOUND_DEGREES);
}, 60_000);

test('so it is with the rotation matrices of three.js, 50 000 times', () => {
  const [out, beam, matrix] = [panTilt(), vec3(0, 0, 0), new Matrix4()];
  let worst = 0;
  for (const { options, turns, point, from } of samples(50_000)) {
    const { x, y, z } = options.position;
    aimAt(compileHead(options), ...point, ...from, out);
    // The beam in the fixture's own frame, turned by three.js' matrix (columns in `elements`).
    const still = compileHead({ ...options, rotation: rotationFromTurns(rad(0), rad(0), rad(0)) });
    beamDirection(still, out.pan, out.tilt, beam);
    const e = matrix.makeRotationFromEuler(new Euler(...turns, 'ZYX')).elements;
    const turned = [0, 1, 2].map(
      row =>
        (e[row] as number) * beam.x +
        (e[4 + row] as number) * beam.y +
        (e[8 + row] as number) * beam.z,
    );
    worst = Math.max(worst, degreesBetween(turned, [point[0] - x, point[1] - y, point[2] - z]));
  }
  expect(worst).toBeLessThan(BOUND_DEGREES);
}, 60_000);

/** 540 degrees in 65535 steps are 0.00824 degrees, 1.44 mm at 10 m; in 255 steps 2.118 degrees, 0.37 m. */
test.each([
  [16, 0.00824, 0.00144],
  [8, 2.118, 0.37],
] as const)('%d bits of pan are as fine as the sheet says', (bits, stepDeg, stepAt10M) => {
  const offsets = bits === 16 ? [0, 1] : [0];
  const pan = compileChannel({ attribute: 'Pan', bits, offsets, from: -270, to: 270, default: 0 });
  expect(pan.physicalPerRaw).toBeCloseTo(stepDeg, bits === 16 ? 5 : 3);
  expect(10 * Math.tan(rad(pan.physicalPerRaw))).toBeCloseTo(stepAt10M, bits === 16 ? 5 : 2);
  const random = seededRandom(SEED);
  let worst = 0;
  for (let i = 0; i < 100_000; i++) {
    const angle = 540 * random() - 270;
    worst = Math.max(worst, Math.abs(toPhysical(pan, toRaw(pan, angle)) - angle));
  }
  expect(worst).toBeLessThanOrEqual(pan.physicalPerRaw / 2 + 1e-9);
  expect(worst).toBeGreaterThan(0.49 * pan.physicalPerRaw);
});

test('with 16 bits of pan and tilt the beam is within a step of pan of where it should be', () => {
  const [out, beam] = [panTilt(), vec3(0, 0, 0)];
  const axis = (attribute: 'Pan' | 'Tilt', reach: number) =>
    compileChannel({ attribute, bits: 16, offsets: [0, 1], from: -reach, to: reach, default: 0 });
  const [pan, tilt] = [axis('Pan', 270), axis('Tilt', 180)];
  const sent = (channel: typeof pan, angle: Radians) =>
    rad(toPhysical(channel, toRaw(channel, toDegrees(angle))));
  let worst = 0;
  for (const { options, point, from } of samples(100_000)) {
    const head = compileHead(options);
    const { x, y, z } = options.position;
    aimAt(head, ...point, ...from, out);
    beamDirection(head, sent(pan, out.pan), sent(tilt, out.tilt), beam);
    const toPoint = [point[0] - x, point[1] - y, point[2] - z];
    worst = Math.max(worst, degreesBetween([beam.x, beam.y, beam.z], toPoint));
  }
  // Half a step of each axis: hypot(540, 360) / 65535 / 2 = 0.00495 degrees.
  expect(worst).toBeLessThan(0.00496);
  expect(worst).toBeLessThan(0.00824);
});
