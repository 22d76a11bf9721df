import { EigenvalueDecomposition, inverse, Matrix } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { Symmetric } from '../../src/calibration/symmetric.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';

function random(size: number, seed: number): { ours: Symmetric; theirs: Matrix } {
  const normal = seededNormal(seed);
  const ours = new Symmetric(size);
  for (let k = 0; k < size + 2; k++) ours.addOuter(Array.from({ length: size }, () => normal()));
  const theirs = Matrix.zeros(size, size);
  for (let i = 0; i < size; i++) for (let j = 0; j < size; j++) theirs.set(i, j, ours.at(i, j));
  return { ours, theirs };
}

describe('symmetric matrices, against the npm package ml-matrix', () => {
  test.each([1, 2, 3, 4, 6, 8])('eigenvalues and inverse of %i rows', size => {
    for (let seed = 1; seed <= 20; seed++) {
      const { ours, theirs } = random(size, seed);
      const { values, vectors } = ours.eigen();
      const expected = new EigenvalueDecomposition(theirs, { assumeSymmetric: true });
      const sorted = [...expected.realEigenvalues].sort((a, b) => b - a);
      values.forEach((value, k) => {
        expect(value).toBeCloseTo(sorted[k] ?? Number.NaN, 9);
        const image = ours.times(vectors[k] ?? []);
        image.forEach((one, i) => {
          expect(one).toBeCloseTo(value * (vectors[k]?.[i] ?? 0), 9);
        });
      });
      const inverted = ours.inverse();
      const reference = inverse(theirs);
      for (let i = 0; i < size; i++) {
        for (let j = 0; j < size; j++) {
          const wanted = reference.get(i, j);
          expect(Math.abs((inverted?.at(i, j) ?? Number.NaN) - wanted)).toBeLessThan(
            1e-8 * (1 + Math.abs(wanted)),
          );
        }
      }
    }
  });

  test('a singular matrix has no inverse', () => {
    const flat = new Symmetric(3);
    flat.addOuter([1, 2, 3]);
    flat.addOuter([0, 1, 1]);
    expect(flat.inverse()).toBeUndefined();
    expect(new Symmetric(2).inverse()).toBeUndefined();
  });

  test('equal eigenvalues, and a diagonal that is out of order', () => {
    expect(Symmetric.diagonal([1, 5, 1, 3]).eigen().values).toEqual([5, 3, 1, 1]);
  });
});
