import fc from 'fast-check';
import { determinant, Matrix, SVD } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { fitRigid, type Pair, placed, spreadOf } from '../../src/calibration/rigid.js';
import { seededNormal, seededRandom } from '../../src/rehearsal/sensors/random.js';
import { rotate, rotationFromTurns } from '../../src/stage/rotation.js';
import type { Radians } from '../../src/stage/units.js';
import { type Vec3, vec3 } from '../../src/stage/vector.js';

function randomPairs(seed: number, count: number, noiseM: number, flat = false): Pair[] {
  const uniform = seededRandom(seed);
  const normal = seededNormal(seed + 1);
  const angle = () => (2 * Math.PI * (uniform() - 0.5)) as Radians;
  const rotation = rotationFromTurns(angle(), angle(), angle());
  const shift = vec3(20 * uniform() - 10, 20 * uniform() - 10, 4 * uniform());
  return Array.from({ length: count }, () => {
    const tracking = vec3(10 * uniform(), 8 * uniform(), flat ? 0 : 3 * uniform());
    const stage = rotate(rotation, tracking, vec3(0, 0, 0));
    return {
      tracking,
      stage: vec3(
        stage.x + shift.x + noiseM * normal(),
        stage.y + shift.y + noiseM * normal(),
        stage.z + shift.z + noiseM * normal(),
      ),
    };
  });
}

const row = ({ x, y, z }: Readonly<Vec3>) => [x, y, z];

/** W. Kabsch, Acta Cryst. A 32 (1976) and 34 (1978): by the singular value decomposition of ml-matrix. */
function kabsch(pairs: readonly Pair[]) {
  const stage = new Matrix(pairs.map(pair => row(pair.stage)));
  const tracking = new Matrix(pairs.map(pair => row(pair.tracking)));
  const stageMean = stage.mean('column');
  const trackingMean = tracking.mean('column');
  stage.subRowVector(stageMean);
  tracking.subRowVector(trackingMean);
  const h = tracking.transpose().mmul(stage);
  const svd = new SVD(h);
  const { leftSingularVectors: u, rightSingularVectors: v } = svd;
  const d = Math.sign(determinant(v.mmul(u.transpose())));
  const r = v.mmul(Matrix.diag([1, 1, d])).mmul(u.transpose());
  const turned = r.mmul(Matrix.columnVector(trackingMean)).to1DArray();
  return {
    rotation: r.to1DArray(),
    origin: stageMean.map((value, i) => value - (turned[i] ?? 0)),
    // Horn 1987, the symmetric scale.
    scale: stage.norm() / tracking.norm(),
  };
}

describe('the rigid fit', () => {
  test('is that of Kabsch by an independent singular value decomposition, on 300 random sets', () => {
    for (let seed = 1; seed <= 300; seed++) {
      // Noise up to half the room: even where the fit is bad, it is the best there is.
      const pairs = randomPairs(seed, 3 + (seed % 8), 0.05 * (seed % 60), seed % 3 === 0);
      const ours = fitRigid(pairs, { scale: 1, level: false });
      const theirs = kabsch(pairs);
      theirs.rotation.forEach((value, i) => {
        expect(ours.rotation[i as 0], `seed ${seed}`).toBeCloseTo(value, 8);
      });
      row(ours.origin).forEach((value, i) => {
        expect(value, `seed ${seed}`).toBeCloseTo(theirs.origin[i] ?? Number.NaN, 7);
      });
      const free = fitRigid(pairs, { scale: 'free', level: false });
      expect(free.scale, `seed ${seed}`).toBeCloseTo(theirs.scale, 8);
    }
  });

  test('gives back a known frame, with scale, from exact places', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1e6 }),
        fc.double({ min: 0.6, max: 1.8 }),
        (seed, k) => {
          if (Number.isNaN(k)) return;
          const pairs = randomPairs(seed, 5, 0).map(({ stage, tracking }) => ({
            stage,
            tracking: vec3(tracking.x / k, tracking.y / k, tracking.z / k),
          }));
          const fit = fitRigid(pairs, { scale: 'free', level: false });
          expect(fit.scale).toBeCloseTo(k, 9);
          for (const pair of pairs) {
            const at = placed(fit, pair.tracking);
            row(at).forEach((value, i) => {
              expect(value).toBeCloseTo(row(pair.stage)[i] ?? Number.NaN, 9);
            });
          }
        },
      ),
      { seed: 6, numRuns: 100 },
    );
  });

  test('level: no other turn about the vertical fits better', () => {
    for (let seed = 1; seed <= 40; seed++) {
      const pairs = randomPairs(seed, 4, 0.3);
      const { rotation, origin } = fitRigid(pairs, { scale: 1, level: true });
      expect(rotation.slice(6)).toEqual([0, 0, 1]);
      expect([rotation[2], rotation[5]]).toEqual([0, 0]);
      const cost = (by: number) => {
        const turn = rotationFromTurns(0 as Radians, 0 as Radians, by as Radians);
        const middle = spreadMiddle(pairs);
        return pairs.reduce((sum, { stage, tracking }) => {
          const at = placed({ rotation, origin, scale: 1 }, tracking);
          const about = rotate(
            turn,
            vec3(at.x - middle.x, at.y - middle.y, at.z - middle.z),
            vec3(0, 0, 0),
          );
          return (
            sum +
            (about.x + middle.x - stage.x) ** 2 +
            (about.y + middle.y - stage.y) ** 2 +
            (about.z + middle.z - stage.z) ** 2
          );
        }, 0);
      };
      for (const by of [-1, -0.1, -0.001, 0.001, 0.1, 1]) {
        expect(cost(by), `seed ${seed}`).toBeGreaterThan(cost(0));
      }
    }
  });

  test('spread: along, across, thick', () => {
    const { lengths, directions } = spreadOf([
      vec3(0, 0, 0),
      vec3(8, 0, 0),
      vec3(0, 2, 0),
      vec3(8, 2, 0),
    ]);
    expect(lengths).toEqual([4, 1, 0]);
    expect(Math.abs(directions[2]?.[2] ?? 0)).toBeCloseTo(1, 12);
  });
});

function spreadMiddle(pairs: readonly Pair[]): Vec3 {
  const sum = vec3(0, 0, 0);
  for (const { stage } of pairs) {
    sum.x += stage.x / pairs.length;
    sum.y += stage.y / pairs.length;
    sum.z += stage.z / pairs.length;
  }
  return sum;
}
