import { Euler, Matrix4 } from 'three';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/rehearsal/sensors/random.js';
import {
  compose,
  IDENTITY,
  rotate,
  rotateBack,
  rotationFromTurns,
  turnsFromRotation,
} from '../../src/stage/rotation.js';
import type { Radians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';

const turned = (x: number, y: number, z: number) =>
  rotationFromTurns(x as Radians, y as Radians, z as Radians);

describe('turns of a rotation', () => {
  test('are those of three (Euler order ZYX is x first, then y, then z about fixed axes)', () => {
    const uniform = seededRandom(11);
    for (let i = 0; i < 2000; i++) {
      const [x, y, z] = [7 * uniform() - 3.5, 7 * uniform() - 3.5, 7 * uniform() - 3.5];
      // Nearer than that to a quarter turn, three gives up the third angle.
      if (Math.abs(Math.cos(y)) < 1e-3) continue;
      const ours = turnsFromRotation(turned(x, y, z));
      const matrix = new Matrix4().makeRotationFromEuler(new Euler(x, y, z, 'ZYX'));
      const theirs = new Euler().setFromRotationMatrix(matrix, 'ZYX');
      expect(ours.x).toBeCloseTo(theirs.x, 9);
      expect(ours.y).toBeCloseTo(theirs.y, 7);
      expect(ours.z).toBeCloseTo(theirs.z, 9);
    }
  });

  test.each([Math.PI / 2, -Math.PI / 2])('y a quarter turn (%f): the same rotation, x is 0', y => {
    for (const [x, z] of [
      [0.3, 0.4],
      [-2, 1],
      [0, 0],
    ] as const) {
      const r = turned(x, y, z);
      const turns = turnsFromRotation(r);
      expect(turns.x).toBe(0);
      turned(turns.x, turns.y, turns.z).forEach((value, i) => {
        expect(value).toBeCloseTo(r[i as 0], 9);
      });
    }
  });

  test('composing, and the way back', () => {
    const [a, b] = [turned(0.3, -1, 2), turned(-2, 0.5, 0.1)];
    const v = vec3(1, -2, 3);
    const oneByOne = rotate(a, rotate(b, v, vec3(0, 0, 0)), vec3(0, 0, 0));
    const atOnce = rotate(compose(a, b), v, vec3(0, 0, 0));
    expect(atOnce.x).toBeCloseTo(oneByOne.x, 12);
    expect(atOnce.y).toBeCloseTo(oneByOne.y, 12);
    expect(atOnce.z).toBeCloseTo(oneByOne.z, 12);
    const back = rotateBack(a, rotate(a, v, vec3(0, 0, 0)), vec3(0, 0, 0));
    expect([back.x, back.y, back.z].map(one => Math.round(one * 1e12) / 1e12)).toEqual([1, -2, 3]);
    expect(compose(a, IDENTITY)).toEqual(a);
  });
});
