/**
 * Pan and tilt against three.js r187 (MIT), which builds its matrices by its own quaternions.
 * A head is a chain of Object3D: the fixture frame in the stage frame, the yoke turned about its Z by
 * pan, and the head turned about its X by tilt; the beam runs along -Z. `rotationFromTurns` turns
 * about the outer x, then y, then z, which is the Euler order 'ZYX' of three.js (intrinsic, R = Rz Ry Rx).
 */
import fc from 'fast-check';
import { Euler, Object3D, Vector3 } from 'three';
import { describe, test } from 'vitest';
import { aimAt, beamDirection, compileHead, panTilt } from '../../src/fixtures/kinematics.js';
import { rotationFromTurns } from '../../src/stage/rotation.js';
import { type Degrees, type Radians, toDegrees, toRadians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';
import { demand } from '../demand.js';

const SEED = 20260113;
const RUNS = 1000;
const BOUND_DEGREES = 1e-6;

const rad = (degrees: number): Radians => toRadians(degrees as Degrees);
const angle = fc.double({ min: -Math.PI, max: Math.PI, noNaN: true }).map(a => a as Radians);
const metres = fc.double({ min: -20, max: 20, noNaN: true });
const point = fc.tuple(metres, metres, metres);
const turns = fc.tuple(angle, angle, angle);

/** Pointing of the chain in world coordinates: where the beam starts, and where it goes. */
function beamOfThree(
  position: readonly [number, number, number],
  [x, y, z]: readonly [number, number, number],
  pan: number,
  tilt: number,
) {
  const fixture = new Object3D();
  fixture.position.set(...position);
  fixture.setRotationFromEuler(new Euler(x, y, z, 'ZYX'));
  const yoke = new Object3D();
  yoke.rotation.set(0, 0, pan);
  const head = new Object3D();
  head.rotation.set(tilt, 0, 0);
  fixture.add(yoke);
  yoke.add(head);
  fixture.updateMatrixWorld(true);
  const from = head.localToWorld(new Vector3(0, 0, 0));
  const direction = head.localToWorld(new Vector3(0, 0, -1)).sub(from);
  return { from, direction };
}

/** Angle by the arc tangent, exact for small angles too (Vector3.angleTo uses the arc cosine). */
const degreesBetween = (a: Vector3, b: Vector3) =>
  toDegrees(Math.atan2(a.clone().cross(b).length(), a.dot(b)) as Radians);

/** @param offDegrees how far one is from the other */
const agrees = (offDegrees: number) =>
  demand(offDegrees < BOUND_DEGREES, () => `${offDegrees} degrees off`);

function headAt(
  [x, y, z]: readonly [number, number, number],
  pose: readonly [Radians, Radians, Radians],
  pan: number,
  tilt: number,
) {
  return compileHead({
    position: vec3(x, y, z),
    rotation: rotationFromTurns(...pose),
    panRange: [rad(-pan), rad(pan)],
    tiltRange: [rad(-tilt), rad(tilt)],
  });
}

describe('three.js agrees', () => {
  test('on the beam for any pose, pan and tilt', () => {
    fc.assert(
      fc.property(point, turns, angle, angle, (position, pose, pan, tilt) => {
        const head = headAt(position, pose, 270, 180);
        const ours = beamDirection(head, pan, tilt, vec3(0, 0, 0));
        const { direction } = beamOfThree(position, pose, pan, tilt);
        agrees(degreesBetween(direction, new Vector3(ours.x, ours.y, ours.z)));
      }),
      { seed: SEED, numRuns: RUNS },
    );
  });

  test('that the beam meets any point, for a head that reaches everywhere', () => {
    fc.assert(
      fc.property(point, turns, point, angle, angle, (position, pose, target, pan, tilt) => {
        fc.pre(new Vector3(...position).distanceTo(new Vector3(...target)) > 1e-3);
        const head = headAt(position, pose, 270, 180);
        const out = aimAt(head, ...target, pan, tilt, panTilt());
        demand(out.reachable, () => 'out of reach');
        const { from, direction } = beamOfThree(position, pose, out.pan, out.tilt);
        const wanted = new Vector3(...target).sub(from);
        agrees(degreesBetween(direction, wanted));
      }),
      { seed: SEED, numRuns: RUNS },
    );
  });

  test('by how much a clamped beam misses', () => {
    fc.assert(
      fc.property(point, turns, point, (position, pose, target) => {
        fc.pre(new Vector3(...position).distanceTo(new Vector3(...target)) > 1e-3);
        const head = headAt(position, pose, 60, 40);
        const out = aimAt(head, ...target, 0, 0, panTilt());
        const { from, direction } = beamOfThree(position, pose, out.pan, out.tilt);
        const misses = degreesBetween(direction, new Vector3(...target).sub(from));
        agrees(Math.abs(misses - toDegrees(out.missedBy)));
      }),
      { seed: SEED, numRuns: RUNS },
    );
  });
});
