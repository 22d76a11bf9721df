import fc from 'fast-check';
import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import {
  type Affine,
  applyTo,
  gdtfMatrix,
  mvrMatrix,
  rotationOf,
  within,
} from '../../src/interchange/affine.js';
import { orientationOf } from '../../src/interchange/plot-fixture.js';
import { rotationFromTurns } from '../../src/stage/rotation.js';
import { type Degrees, toRadians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';
import { asGdtf, asMvr, cell, poses } from './poses.js';

const SEED = 20260113;
const pose = poses(20);

function expectSame(affine: Affine | undefined, m: Matrix4): void {
  if (affine === undefined) throw new Error('no matrix');
  for (const point of [new Vector3(0, 0, 0), new Vector3(1, 2, 3), new Vector3(-4, 0.5, 2)]) {
    const ours = applyTo(affine, vec3(point.x, point.y, point.z));
    const theirs = point.clone().applyMatrix4(m);
    // Six digits in the files.
    expect(Math.hypot(ours.x - theirs.x, ours.y - theirs.y, ours.z - theirs.z)).toBeLessThan(2e-5);
  }
}

describe('the two matrices are transposed to each other', () => {
  test('by hand: a quarter turn about z takes x to y, and lies 1, 2, 3 metres away', () => {
    const gdtf = gdtfMatrix('{0,-1,0,1}{1,0,0,2}{0,0,1,3}{0,0,0,1}');
    const mvr = mvrMatrix('{0,1,0}{-1,0,0}{0,0,1}{1000,2000,3000}');
    for (const one of [gdtf, mvr]) {
      expect(one).toBeDefined();
      expect(applyTo(one as Affine, vec3(1, 0, 0))).toEqual({ x: 1, y: 3, z: 3 });
    }
  });

  test('three places points as both do', () => {
    fc.assert(
      fc.property(pose, m => {
        expectSame(gdtfMatrix(asGdtf(m)), m);
        expectSame(mvrMatrix(asMvr(m)), m);
      }),
      { seed: SEED },
    );
  });

  test('read the wrong way round, a turn is turned back', () => {
    // 30 degrees about z; its transpose is -30.
    const m = new Matrix4().makeRotationZ(Math.PI / 6);
    const right = rotationOf(gdtfMatrix(asGdtf(m)) as Affine);
    const wrong = rotationOf(gdtfMatrix(asGdtf(m.clone().transpose())) as Affine);
    expect(right.ok && orientationOf(right.rotation)).toEqual({ x: 0, y: 0, z: 30 });
    expect(wrong.ok && orientationOf(wrong.rotation)).toEqual({ x: 0, y: 0, z: -30 });
  });

  test('groups in groups are multiplied from the outside in', () => {
    fc.assert(
      fc.property(pose, pose, pose, (a, b, c) => {
        const [x, y, z] = [a, b, c].map(one => mvrMatrix(asMvr(one)) as Affine) as [
          Affine,
          Affine,
          Affine,
        ];
        expectSame(within(within(x, y), z), a.clone().multiply(b).multiply(c));
      }),
      { seed: SEED },
    );
  });
});

test('the orientation of a show file turns as the matrix does', () => {
  fc.assert(
    fc.property(pose, m => {
      const rotation = rotationOf(mvrMatrix(asMvr(m)) as Affine);
      if (!rotation.ok) throw new Error(rotation.fault);
      const written = orientationOf(rotation.rotation) ?? { x: 0, y: 0, z: 0 };
      const { x, y, z } = written === 'standing' ? { x: 180, y: 0, z: 0 } : written;
      const radians = (degrees: number) => toRadians(degrees as Degrees);
      const again = rotationFromTurns(radians(x), radians(y), radians(z));
      again.forEach((value, i) => {
        expect(value).toBeCloseTo(cell(m, Math.floor(i / 3), i % 3), 4);
      });
    }),
    { seed: SEED },
  );
});

test('what is no rotation', () => {
  const of = (text: string) => rotationOf(mvrMatrix(text) as Affine);
  expect(of('{2,0,0}{0,2,0}{0,0,2}{0,0,0}')).toMatchObject({ ok: true, scaled: true });
  expect(of('{1,0,0}{0,1,0}{0,0,1}{0,0,0}')).toMatchObject({ ok: true, scaled: false });
  expect(of('{-1,0,0}{0,1,0}{0,0,1}{0,0,0}')).toMatchObject({ ok: false, fault: /mirrors/ });
  expect(of('{1,0,0}{0.5,1,0}{0,0,1}{0,0,0}')).toMatchObject({ ok: false, fault: /shears/ });
  expect(of('{1,0,0}{0,0,0}{0,0,1}{0,0,0}')).toMatchObject({ ok: false, fault: /flattens/ });
});

test.each([
  '',
  '{1,0,0}{0,1,0}{0,0,1}',
  '{1,0,0,0}{0,1,0,0}{0,0,1,0}{0,0,0,1}',
  '{1,0,x}{0,1,0}{0,0,1}{0,0,0}',
  '{1,0,}{0,1,0}{0,0,1}{0,0,0}',
  '{1,0,Infinity}{0,1,0}{0,0,1}{0,0,0}',
  'a{1,0,0}{0,1,0}{0,0,1}{0,0,0}',
])('"%s" is no matrix of MVR', text => {
  expect(mvrMatrix(text)).toBeUndefined();
});
