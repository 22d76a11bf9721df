import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { holds, pathInCylinderM, pathInM } from '../../src/planning/solid.js';

const p = (x: number, y: number, z: number) => ({ x, y, z });
const BOX = { kind: 'box', min: p(1, 1, 0), max: p(3, 2, 2) } as const;
const POST = { kind: 'cylinder', x: 2, y: 0, radiusM: 0.5, fromM: 0, toM: 2 } as const;

describe('the way through a solid', () => {
  it.each([
    ['straight through', p(0, 1.5, 1), p(5, 1.5, 1), 2],
    ['ends inside', p(0, 1.5, 1), p(2, 1.5, 1), 1],
    ['beside it', p(0, 2.5, 1), p(5, 2.5, 1), 0],
    ['above it', p(0, 1.5, 2.1), p(5, 1.5, 2.1), 0],
    ['stops before it', p(0, 1.5, 1), p(0.9, 1.5, 1), 0],
    ['down through the top', p(2, 1.5, 3), p(2, 1.5, 1), 1],
  ])('of a box: %s', (_, a, b, length) => expect(pathInM(BOX, a, b)).toBeCloseTo(length, 12));

  it.each([
    ['through the axis', p(0, 0, 1), p(5, 0, 1), 1],
    ['a chord', p(0, 0.3, 1), p(5, 0.3, 1), 0.8],
    ['past it', p(0, 0.6, 1), p(5, 0.6, 1), 0],
    ['over it', p(0, 0, 2.5), p(5, 0, 2.5), 0],
    ['along the axis', p(2, 0, 5), p(2, 0, -1), 2],
    ['parallel to the axis, outside', p(2.6, 0, 5), p(2.6, 0, -1), 0],
    ['out through the top', p(2, 0, 1.5), p(3, 0, 2.5), Math.SQRT1_2],
  ])('of a cylinder: %s', (_, a, b, length) => expect(pathInM(POST, a, b)).toBeCloseTo(length, 12));

  it('is what stepping along the line finds', () => {
    const part = fc.double({ min: -3, max: 5, noNaN: true });
    const point = fc.record({ x: part, y: part, z: part });
    fc.assert(
      fc.property(point, point, fc.constantFrom(BOX, POST), (a, b, solid) => {
        const steps = 2000;
        let inside = 0;
        for (let i = 0; i < steps; i++) {
          const t = (i + 0.5) / steps;
          if (
            holds(solid, p(a.x + t * (b.x - a.x), a.y + t * (b.y - a.y), a.z + t * (b.z - a.z)))
          ) {
            inside++;
          }
        }
        const length = Math.hypot(b.x - a.x, b.y - a.y, b.z - a.z);
        const one = length / steps;
        expect(Math.abs(pathInM(solid, a, b) - inside * one)).toBeLessThanOrEqual(2 * one + 1e-9);
      }),
      { seed: 21, numRuns: 300 },
    );
  });

  it('of a cylinder does not hang on the direction', () => {
    const [a, b] = [p(0, 0.2, 0.4), p(4, -0.1, 1.9)];
    const there = pathInCylinderM(a, b, 2, 0, 0.5, 0, 2);
    expect(pathInCylinderM(b, a, 2, 0, 0.5, 0, 2)).toBeCloseTo(there, 12);
  });
});
