/** What we send as a position, and what a signal takes as a number. */
import { describe, expect, test } from 'vitest';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import { POSITION_OUT_ROLES, positionOut } from '../../../src/protocols/osc/position-out.js';
import { signalValueOf } from '../../../src/protocols/osc/signal-value.js';

const OUT = {
  performer: 'ines',
  label: 'Ines',
  id: 3,
  x: 1,
  y: 2,
  z: 3,
  vx: 2,
  vy: 3,
  vz: 6,
  confidence: 0.5,
  tracked: true,
  state: 'live',
};

describe('a position that goes out', () => {
  test('has each argument with its type, a speed over all three axes, and its names in the address', () => {
    expect(
      positionOut({ address: '/{id}/{performer}/{id}', arguments: POSITION_OUT_ROLES }, OUT),
    ).toEqual({
      address: '/3/ines/3',
      args: [
        ...[1, 2, 3, 2, 3, 6, 7, 0.5].map(value => ({ type: 'f', value })),
        { type: 'i', value: 1 },
        { type: 's', value: 'live' },
        { type: 's', value: 'ines' },
        { type: 's', value: 'Ines' },
        { type: 'i', value: 3 },
      ],
    });
    const lost = positionOut({ address: '/p', arguments: ['tracked'] }, { ...OUT, tracked: false });
    expect(lost.args).toEqual([{ type: 'i', value: 0 }]);
  });
});

test.each([
  [{ type: 'T', value: true }, 1],
  [{ type: 'F', value: false }, 0],
  [{ type: 'i', value: 7 }, 7],
  [{ type: 'f', value: 0.25 }, 0.25],
  [{ type: 'd', value: -2 }, -2],
  [{ type: 'h', value: { high: 1, low: -1 } }, 2 ** 33 - 1],
  [{ type: 's', value: '1' }, undefined],
  [[{ type: 'i', value: 7 }], undefined],
] as unknown as readonly [OscArgument, number | undefined][])(
  'of %j a signal takes %s',
  (argument, value) => {
    expect(signalValueOf(argument)).toBe(value);
  },
);
