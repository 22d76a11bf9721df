import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SIGNED_AXES } from '../../../src/protocols/axes.js';
import { positionMessages } from '../../../src/protocols/osc/position-message.js';
import { compileRoutes, type RouteOptions } from '../../../src/protocols/osc/route.js';
import { rawPosition } from '../../../src/protocols/raw-position.js';
import { readPosition } from './read.js';

const axes = fc
  .tuple(
    fc.shuffledSubarray([0, 1, 2], { minLength: 3 }),
    fc.tuple(fc.boolean(), fc.boolean(), fc.boolean()),
  )
  .map(([order, signs]) => order.map((axis, i) => SIGNED_AXES[2 * axis + (signs[i] ? 1 : 0)]));
const coordinate = fc.double({ min: -100, max: 100, noNaN: true });

describe('the message of a position', () => {
  it('reads back as the position, for any axes and unit', () => {
    fc.assert(
      fc.property(
        axes,
        fc.constantFrom(1, 0.01, 0.001, 0.3048),
        fc.boolean(),
        coordinate,
        coordinate,
        coordinate,
        (signed, unitM, inAddress, x, y, z) => {
          const required = (role: 'x' | 'y' | 'z' | 'tracker' | 'ignore') => ({
            role,
            optional: false,
          });
          const route: RouteOptions = {
            address: inAddress ? '/a/{tracker}/b' : '/a/b',
            arguments: [
              ...(inAddress ? [] : [required('tracker')]),
              required('z'),
              required('ignore'),
              required('x'),
              required('y'),
              { role: 'quality', optional: true },
              { role: 'stamp', optional: true },
            ],
            unitM,
            axes: signed as unknown as RouteOptions['axes'],
          };
          const compiled = compileRoutes([route]);
          if (!compiled.ok) throw new Error(compiled.errors[0]?.reason);
          const [message] = positionMessages([route], 'gull', { x, y, z }, 0.5, 12.25);
          const { address = '', args = [] } = message ?? {};
          const out = rawPosition();
          expect(readPosition(compiled.table, address, args, out)).toBeUndefined();
          expect(out.tracker).toBe('gull');
          expect(out.quality).toBe(0.5);
          expect(out.stampS).toBe(12.25);
          expect(out.x).toBeCloseTo(x, 9);
          expect(out.y).toBeCloseTo(y, 9);
          expect(out.z).toBeCloseTo(z, 9);
        },
      ),
      { seed: 1 },
    );
  });
});
