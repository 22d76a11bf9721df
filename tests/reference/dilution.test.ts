import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import {
  addAnchor,
  dilution,
  type Geometry,
  geometry,
  horizontalWith,
  planDilution,
} from '../../src/planning/dilution.js';

/**
 * Published and derived values (tests/fixtures/data/geometry/README.md), and an independent inverse
 * (ml-matrix, MIT). A geometry in the plane is one whose anchors are at the height of the place.
 */
type Direction = readonly [number, number, number];

function sumsOf(directions: readonly Direction[]): Geometry {
  const sums = geometry();
  for (const direction of directions) addAnchor(sums, ...direction);
  return sums;
}

const polygon = (corners: number): Direction[] =>
  Array.from({ length: corners }, (_, i) => {
    const angle = (2 * Math.PI * i) / corners + 0.3;
    return [Math.cos(angle), Math.sin(angle), 0];
  });
const SOLIDS: Record<string, Direction[]> = {
  'regular tetrahedron': [
    [1, 1, 1],
    [1, -1, -1],
    [-1, 1, -1],
    [-1, -1, 1],
  ],
  'regular octahedron': [
    [1, 0, 0],
    [-1, 0, 0],
    [0, 1, 0],
    [0, -1, 0],
    [0, 0, 1],
    [0, 0, -1],
  ],
  'cube corners': [-1, 1].flatMap(x => [-1, 1].flatMap(y => [-1, 1].map(z => [x, y, z] as const))),
  '1 zenith + 3 on horizon at 120 deg': [[0, 0, 1], ...polygon(3)],
};
const SQUARE = [
  [0, 0],
  [10, 0],
  [10, 10],
  [0, 10],
] as const;
const CUBOID = [0, 8.86].flatMap(x => [0, 8].flatMap(y => [0, 2.2].map(z => [x, y, z] as const)));

/** Directions and measure of a row's geometry. */
function read(text: string): { directions: Direction[]; isPlane: boolean; isRange: boolean } {
  const isPlane = text.startsWith('2D');
  const isRange = /^[23]D range/.test(text);
  const gon = /regular (\d)-gon/.exec(text);
  if (gon !== null) return { directions: polygon(Number(gon[1])), isPlane, isRange };
  const crossing = /subtending (\d+) deg/.exec(text);
  if (crossing !== null) {
    const angle = (Number(crossing[1]) * Math.PI) / 180;
    return {
      directions: [
        [1, 0, 0],
        [Math.cos(angle), Math.sin(angle), 0],
      ],
      isPlane,
      isRange,
    };
  }
  const target = /target \(([^)]*)\)$/.exec(text)?.[1]?.split(',').map(Number);
  if (target !== undefined) {
    const [x = 0, y = 0, z = 0] = target;
    const anchors: readonly (readonly number[])[] = isPlane ? SQUARE : CUBOID;
    const directions = anchors.map(([ax = 0, ay = 0, az = 0]) => [ax - x, ay - y, az - z] as const);
    return { directions, isPlane, isRange };
  }
  const solid = Object.keys(SOLIDS).find(name => text.includes(name));
  return { directions: SOLIDS[solid ?? ''] ?? [], isPlane, isRange };
}

const rows = readFileSync('tests/fixtures/data/geometry/dop_check_values.csv', 'utf8')
  .trim()
  .split('\n')
  .slice(1)
  .map(line => {
    const [text = '', quantity = '', , value = ''] = line.split(';');
    return { text, quantity, value: Number(value) };
  });

describe('check values', () => {
  it('are all there', () => expect(rows.length).toBeGreaterThan(40));

  it.each(rows)('$text: $quantity is $value', ({ text, quantity, value }) => {
    const { directions, isPlane, isRange } = read(text);
    expect(directions.length).toBeGreaterThan(1);
    const sums = sumsOf(directions);
    const by = isRange ? 'range' : 'time-difference';
    const { horizontal, vertical, position, clock } = dilution(sums, by);
    const plan = planDilution(sums, by);
    const got = {
      'position GDOP': plan,
      // The polygon's own clock variance is 1 / N: the sum of its directions is zero.
      'GDOP incl. clock': Math.hypot(plan, 1 / Math.sqrt(directions.length)),
      GDOP: isPlane ? plan : Math.hypot(position, clock),
      PDOP: position,
      HDOP: isPlane ? plan : horizontal,
      VDOP: vertical,
      TDOP: clock,
    }[quantity];
    expect(got).toBeCloseTo(value, 5);
  });
});

describe('lower bounds', () => {
  // Levanon 2000: no layout of N anchors in the plane is better than 2 / sqrt(N), in either measure;
  // in space the bound is 3 / sqrt(N) (Xue and Yang 2017).
  it('are never beaten', () => {
    const angle = fc.integer({ min: 0, max: 6283 }).map(value => value / 1000);
    const rise = fc.integer({ min: -1000, max: 1000 }).map(value => value / 1000);
    fc.assert(
      fc.property(fc.array(fc.tuple(angle, rise), { minLength: 4, maxLength: 12 }), list => {
        const flat = sumsOf(list.map(([a]) => [Math.cos(a), Math.sin(a), 0]));
        const round = sumsOf(list.map(([a, z]) => [Math.cos(a), Math.sin(a), z]));
        for (const by of ['range', 'time-difference'] as const) {
          expect(planDilution(flat, by)).toBeGreaterThanOrEqual(2 / Math.sqrt(list.length) - 1e-9);
          expect(dilution(round, by).position).toBeGreaterThanOrEqual(
            3 / Math.sqrt(list.length) - 1e-9,
          );
        }
      }),
      { seed: 11, numRuns: 200 },
    );
  });
});

describe('an independent inverse', () => {
  // Whole centimetres: fast-check likes doubles so small that all anchors are in one line.
  const part = fc.integer({ min: -1000, max: 1000 }).map(value => value / 100);
  const layouts = fc.array(fc.tuple(part, part, part), { minLength: 5, maxLength: 12 });

  it('gives the same dilution, clock and all', () => {
    let compared = 0;
    fc.assert(
      fc.property(layouts, list => {
        const rows = list.filter(one => Math.hypot(...one) > 0.1);
        if (rows.length < 4) return;
        const units = rows.map(one => one.map(value => value / Math.hypot(...one)));
        for (const by of ['range', 'time-difference'] as const) {
          const h = new Matrix(units.map(unit => (by === 'range' ? unit : [...unit, 1])));
          const information = h.transpose().mmul(h);
          const { horizontal, vertical, position, clock } = dilution(sumsOf(rows), by);
          // Where the matrix is nearly singular the two round differently.
          if (!(position < 1e3)) return;
          compared++;
          const variance = inverse(information);
          const [x, y, z] = [variance.get(0, 0), variance.get(1, 1), variance.get(2, 2)];
          expect(horizontal / Math.sqrt(x + y)).toBeCloseTo(1, 5);
          expect(vertical / Math.sqrt(z)).toBeCloseTo(1, 5);
          if (by === 'time-difference') {
            expect(clock / Math.sqrt(variance.get(3, 3))).toBeCloseTo(1, 5);
          }
        }
      }),
      { seed: 12, numRuns: 200 },
    );
    expect(compared).toBeGreaterThan(200);
  });

  it('agrees that weighted time differences are arrivals with one clock', () => {
    // Differences to the first anchor have the covariance D DT, D = [-1 | I].
    const directions = [...polygon(5), [0.2, 0.4, 2] as const, [-1, 0.3, 1.5] as const];
    const units = directions.map(one => one.map(value => value / Math.hypot(...one)));
    const count = units.length;
    const differences = Matrix.zeros(count - 1, count);
    for (let i = 0; i < count - 1; i++) {
      differences.set(i, 0, -1);
      differences.set(i, i + 1, 1);
    }
    const h = differences.mmul(new Matrix(units));
    const weight = inverse(differences.mmul(differences.transpose()));
    const variance = inverse(h.transpose().mmul(weight).mmul(h));
    const { horizontal, vertical } = dilution(sumsOf(directions), 'time-difference');
    expect(horizontal).toBeCloseTo(Math.sqrt(variance.get(0, 0) + variance.get(1, 1)), 9);
    expect(vertical).toBeCloseTo(Math.sqrt(variance.get(2, 2)), 9);
  });

  it('agrees on what is known of the height beforehand', () => {
    const directions = [...polygon(4), [0.5, 0.1, 0.4] as const];
    const units = directions.map(one => one.map(value => value / Math.hypot(...one)));
    const h = new Matrix(units);
    const information = h.transpose().mmul(h);
    for (const known of [0, 0.01, 3]) {
      const more = information.clone();
      more.set(2, 2, more.get(2, 2) + known);
      const variance = inverse(more);
      expect(horizontalWith(sumsOf(directions), 'range', known)).toBeCloseTo(
        Math.sqrt(variance.get(0, 0) + variance.get(1, 1)),
        9,
      );
    }
  });

  it('has none where the anchors are all at the same height as the place, but across the floor', () => {
    const sums = sumsOf(polygon(5));
    expect(dilution(sums, 'range').vertical).toBe(Number.POSITIVE_INFINITY);
    expect(horizontalWith(sums, 'range', 0.01)).toBeCloseTo(2 / Math.sqrt(5), 9);
  });
});
