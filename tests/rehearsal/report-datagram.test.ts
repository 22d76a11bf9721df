import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { placed } from '../../src/calibration/rigid.js';
import { SIGNED_AXES } from '../../src/protocols/axes.js';
import { decodeDatagram } from '../../src/protocols/osc/decode.js';
import { compileRoutes, type RouteOptions } from '../../src/protocols/osc/route.js';
import { rawPosition } from '../../src/protocols/raw-position.js';
import { reportDatagram } from '../../src/rehearsal/report-datagram.js';
import type { InputPlan } from '../../src/show/model/model.js';
import { rotationFromTurns } from '../../src/stage/rotation.js';
import type { Radians } from '../../src/stage/units.js';
import { readPosition } from '../protocols/osc/read.js';

function input(route: Partial<RouteOptions>, more: Partial<InputPlan> = {}): InputPlan {
  return {
    carries: 'positions',
    name: 'tracking',
    listen: '127.0.0.1',
    port: 9010,
    allow: 'any',
    maxDatagramBytes: 1472,
    timeTags: 'due',
    isStamped: false,
    routes: [
      {
        address: '/tracker/{tracker}/position',
        arguments: (['x', 'y', 'z', 'quality'] as const).map(role => ({ role, optional: false })),
        unitM: 1,
        axes: ['x', 'y', 'z'],
        ...route,
      },
    ],
    psn: undefined,
    origin: { x: 0, y: 0, z: 0 },
    rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1],
    scale: 1,
    ...more,
  };
}

/** As the engine reads it. */
function readBack(plan: InputPlan, bytes: Buffer) {
  const compiled = compileRoutes(plan.routes);
  if (!compiled.ok) throw new Error('routes');
  const raw = rawPosition();
  let tag: unknown;
  decodeDatagram(
    bytes,
    { maxDatagramBytes: 1472, maxBundleDepth: 8 },
    {
      rejected: reason => {
        throw new Error(reason);
      },
      message: (address, args, timeTag) => {
        tag = timeTag;
        expect(readPosition(compiled.table, address, args, raw)).toBeUndefined();
      },
    },
  );
  return { tracker: raw.tracker, at: placed(plan, raw), tag };
}

describe('the datagram of a place', () => {
  it('is read back as that place, whatever frame, axes and unit the input has', () => {
    const metres = fc.integer({ min: -3000, max: 3000 }).map(value => value / 100);
    const angle = fc.integer({ min: 0, max: 628 }).map(value => (value / 100) as Radians);
    const axes = fc
      .tuple(fc.constantFrom([0, 1, 2], [1, 2, 0], [2, 1, 0], [0, 2, 1]), fc.nat(7))
      .map(([order, signs]) =>
        order.map((axis, i) => SIGNED_AXES[2 * axis + ((signs >> i) & 1)] ?? 'x'),
      );
    fc.assert(
      fc.property(
        metres,
        metres,
        metres,
        angle,
        angle,
        axes,
        fc.constantFrom(1, 0.001, 0.3048),
        (...v) => {
          const [x, y, z, a, b, [ax = 'x', ay = 'y', az = 'z'], unitM] = v;
          const plan = input(
            { unitM, axes: [ax, ay, az] },
            { origin: { x: 2, y: -1, z: 0.3 }, rotation: rotationFromTurns(a, b, a), scale: 1.02 },
          );
          const bytes = reportDatagram(plan, '7', { x, y, z }, 0);
          const { tracker, at, tag } = readBack(plan, bytes ?? Buffer.alloc(0));
          expect(tracker).toBe('7');
          expect(tag).toBe('immediately');
          expect(Math.hypot(at.x - x, at.y - y, at.z - z)).toBeLessThan(1e-9);
        },
      ),
      { seed: 41 },
    );
  });

  it('names the tracker in an argument where the route does, and is tagged where the input wants it', () => {
    const roles = ['tracker', 'ignore', 'x', 'y', 'z'] as const;
    const plan = input(
      { address: '/pos', arguments: roles.map(role => ({ role, optional: false })) },
      { timeTags: 'measured' },
    );
    const bytes = reportDatagram(plan, 'gull', { x: 1, y: 2, z: 3 }, 1_700_000_000.5);
    const { tracker, at, tag } = readBack(plan, bytes ?? Buffer.alloc(0));
    expect([tracker, at]).toEqual(['gull', { x: 1, y: 2, z: 3 }]);
    expect(tag).toBeCloseTo(1_700_000_000.5, 6);
  });

  it('is none for an input without routes', () => {
    const plan = { ...input({}), routes: [] };
    expect(reportDatagram(plan, '1', { x: 0, y: 0, z: 0 }, 0)).toBeUndefined();
  });
});
