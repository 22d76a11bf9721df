import fc from 'fast-check';
import solver, { type SolverAPI } from 'javascript-lp-solver';
import { solveQP } from 'quadprog';
import { expect, test } from 'vitest';
import { distanceOf, sumOf, type Xyz, xyOf, xyzOf } from '../../src/colour/chromaticity.js';
import { mixOf, mostLuminance } from '../../src/colour/mix.js';
import { LAMP_NAMES, LAMPS, lampOf } from '../colour/lamps.js';

/*
 * Mixing emitters, against general solvers: the most luminance by a linear programme (javascript-lp-solver 1.0.3), the
 * levels by a quadratic one (quadprog 1.6.1, a port of R's, Goldfarb and Idnani 1983).
 */

/** Its types call the module what is its default export. */
const lp = solver as unknown as SolverAPI;

const SEED = 20261130;
const RUNS = 150;

const lamp = fc.constantFrom(...LAMP_NAMES).map(name => lampOf(...LAMPS[name]));
/** A colour that the lamp can make, and how much of the most of it. */
const case_ = lamp.chain(emitters =>
  fc.record({
    emitters: fc.constant(emitters),
    wanted: fc
      .array(fc.double({ min: 0.02, max: 1, noNaN: true }), {
        minLength: emitters.length,
        maxLength: emitters.length,
      })
      .map(shares => xyOf(lightOf(emitters, shares))),
    share: fc.double({ min: 0.01, max: 0.98, noNaN: true }),
  }),
);

function lightOf(emitters: readonly Xyz[], levels: readonly number[]): Xyz {
  return sumOf(
    emitters.map(({ X, Y, Z }, i) => {
      const level = levels[i] as number;
      return { X: X * level, Y: Y * level, Z: Z * level };
    }),
  );
}

test('the most luminance in a colour is that of a linear programme', () => {
  fc.assert(
    fc.property(case_, ({ emitters, wanted }) => {
      const { X, Z } = xyzOf(wanted, 1);
      const constraints: Record<string, { equal?: number; max?: number }> = {
        x: { equal: 0 },
        z: { equal: 0 },
      };
      const variables: Record<string, Record<string, number>> = {};
      emitters.forEach((one, i) => {
        constraints[`full${i}`] = { max: 1 };
        variables[`e${i}`] = {
          Y: one.Y,
          x: one.X - X * one.Y,
          z: one.Z - Z * one.Y,
          [`full${i}`]: 1,
        };
      });
      const solved = lp.Solve({ optimize: 'Y', opType: 'max', constraints, variables }) as {
        feasible: boolean;
        result: number;
      };
      expect(solved.feasible).toBe(true);
      const most = mostLuminance(emitters, wanted);
      // The solver rounds to 8 digits, and counts as 0 what is below 1e-8.
      expect(Math.abs(most - solved.result) / most).toBeLessThan(2e-4);
    }),
    { seed: SEED, numRuns: RUNS },
  );
});

test('the levels are those of a quadratic programme', () => {
  fc.assert(
    fc.property(case_, ({ emitters, wanted, share }) => {
      const luminance = share * mostLuminance(emitters, wanted);
      const { levels } = mixOf(emitters, wanted, luminance);
      const target = xyzOf(wanted, luminance);
      const n = emitters.length;
      const from1 = <T>(all: T[]): T[] => [undefined as T, ...all];
      const unit = (at: number) => from1(Array.from({ length: n }, (_, i) => (i === at ? 1 : 0)));
      const columns = [
        ...(['X', 'Y', 'Z'] as const).map(k => emitters.map(one => one[k])),
        ...emitters.map((_, at) => emitters.map((__, i) => (i === at ? 1 : 0))),
        ...emitters.map((_, at) => emitters.map((__, i) => (i === at ? -1 : 0))),
      ];
      const D = from1(emitters.map((_, i) => unit(i)));
      const A = from1(emitters.map((_, i) => from1(columns.map(column => column[i] as number))));
      const b = from1([
        target.X,
        target.Y,
        target.Z,
        ...emitters.map(() => 0),
        ...emitters.map(() => -1),
      ]);
      const { solution, message } = solveQP(D, from1(emitters.map(() => 0)), A, b, 3);
      expect(message).toBe('');
      levels.forEach((level, i) => {
        expect(Math.abs(level - (solution[i + 1] as number))).toBeLessThan(1e-6);
      });
    }),
    { seed: SEED, numRuns: RUNS },
  );
});

test('what is asked is had, chromaticity and luminance', () => {
  fc.assert(
    fc.property(case_, ({ emitters, wanted, share }) => {
      const most = mostLuminance(emitters, wanted);
      for (const luminance of [share * most, most, undefined]) {
        const mixed = mixOf(emitters, wanted, luminance);
        const light = lightOf(emitters, mixed.levels);
        expect(mixed.off).toBe(0);
        expect(distanceOf(xyOf(light), wanted)).toBeLessThan(1e-6);
        expect(Math.abs(light.Y / (luminance ?? most) - 1)).toBeLessThan(1e-6);
        expect(Math.min(...mixed.levels)).toBeGreaterThanOrEqual(0);
        expect(Math.max(...mixed.levels)).toBeLessThanOrEqual(1);
      }
    }),
    { seed: SEED, numRuns: RUNS },
  );
});
