import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SIGNED_AXES } from '../../../src/protocols/axes.js';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import { POSITION_REJECT_REASONS } from '../../../src/protocols/osc/read-positions.js';
import {
  compileRoutes,
  type RouteArgument,
  type RouteOptions,
  type RouteRole,
} from '../../../src/protocols/osc/route.js';
import { rawPosition } from '../../../src/protocols/raw-position.js';
import { readPosition } from './read.js';

/** 'quality?' is an optional argument. */
const layout = (...names: string[]): RouteArgument[] =>
  names.map(name => ({ role: name.replace('?', '') as RouteRole, optional: name.endsWith('?') }));

const route = (options: Partial<RouteOptions> = {}): RouteOptions => ({
  address: '/tracker/{tracker}/position',
  arguments: layout('x', 'y', 'z', 'quality?'),
  unitM: 1,
  axes: ['x', 'y', 'z'],
  ...options,
});
const table = (...routes: RouteOptions[]) => {
  const result = compileRoutes(routes);
  if (!result.ok) throw new Error(JSON.stringify(result.errors));
  return result.table;
};
const f = (value: number): OscArgument => ({ type: 'f', value });
const i = (value: number): OscArgument => ({ type: 'i', value });
const s = (value: string): OscArgument => ({ type: 's', value });
const read = (routes: RouteOptions[], address: string, ...args: OscArgument[]) => {
  const out = rawPosition();
  return readPosition(table(...routes), address, args, out) ?? out;
};
const HERE = '/tracker/gull/position';

describe('a stamp', () => {
  const stamped = route({ arguments: layout('x', 'y', 'stamp') });
  const stampOf = (argument: OscArgument) => {
    const result = read([stamped], HERE, f(1), f(2), argument);
    return typeof result === 'string' ? result : result.stampS;
  };

  it.each<[OscArgument, number]>([
    [{ type: 'd', value: 12.345678 }, 12.345678],
    [f(12.5), 12.5],
    [{ type: 'd', value: -3 }, -3],
    // 1 500 000 microseconds, and one with a high half: 2^32 + 4 294 967 295 = 8 589.934591 s.
    [{ type: 'h', value: { high: 0, low: 1_500_000 } }, 1.5],
    [{ type: 'h', value: { high: 1, low: -1 } }, 8589.934591],
    [{ type: 'h', value: { high: -1, low: -1_000_000 } }, -1],
    // RFC 5905 figure 4: 1970-01-01 is 2 208 988 800 s of NTP; half a second is 2^31 of its fraction.
    [{ type: 't', value: { raw: [2_208_988_800 + 10, 2 ** 31] } }, 10.5],
  ])('of %o is %d s', (argument, seconds) => {
    expect(stampOf(argument)).toBeCloseTo(seconds, 9);
  });

  it('that says "immediately" is none, as is one that may be missing', () => {
    expect(stampOf({ type: 't', value: { raw: [0, 1] } })).toBeUndefined();
    const optional = route({ arguments: layout('x', 'y', 'stamp?') });
    expect(read([optional], HERE, f(1), f(2))).toHaveProperty('stampS', undefined);
  });

  it('of another type, or not finite, is refused', () => {
    expect(stampOf(i(12))).toBe('argument-type');
    expect(stampOf(s('noon'))).toBe('argument-type');
    expect(stampOf({ type: 'd', value: Number.NaN })).toBe('not-finite');
    expect(stampOf(f(Number.POSITIVE_INFINITY))).toBe('not-finite');
  });
});

describe('reading positions', () => {
  it('takes the tracker from the address', () => {
    expect(read([route()], HERE, f(1), f(2), f(3))).toEqual({
      tracker: 'gull',
      x: 1,
      y: 2,
      z: 3,
      quality: undefined,
      battery: undefined,
      stampS: undefined,
    });
    expect(read([route()], HERE, f(1), f(2), f(3), f(0.5))).toHaveProperty('quality', 0.5);
  });

  it.each([
    [0, 0],
    [0.37, 0.37],
    [1, 1],
    // A charge that makes no sense is none; the position counts all the same.
    [37, undefined],
    [-0.1, undefined],
  ])('a charge of %d reads as %s', (sent, charge) => {
    const told = route({ arguments: layout('x', 'y', 'z', 'battery?') });
    const position = read([told], HERE, f(1), f(2), f(3), { type: 'd', value: sent });
    expect(position).toMatchObject({ x: 1, y: 2, z: 3, battery: charge });
    expect(read([told], HERE, f(1), f(2), f(3))).toHaveProperty('battery', undefined);
  });

  it.each([
    [i(12), '12'],
    [{ type: 'h', value: { high: 1, low: -1 } } as const, '8589934591'],
    [{ type: 'h', value: { high: -1, low: -2 } } as const, '-2'],
    [s('Ines'), 'Ines'],
    [{ type: 'S', value: 'Ines' } as const, 'Ines'],
  ])('takes the tracker from argument %o', (argument, tracker) => {
    const options = route({ address: '/pos', arguments: layout('tracker', 'x', 'y', 'z') });
    expect(read([options], '/pos', argument, f(1), f(2), f(3))).toHaveProperty('tracker', tracker);
  });

  it('reads i, f, d and h, ignores what it is told to, and scales to metres', () => {
    const options = route({ arguments: layout('x', 'ignore', 'y', 'z'), unitM: 0.001 });
    const out = read(
      [options],
      HERE,
      i(-1500),
      [s('an array')],
      { type: 'd', value: 250.5 },
      { type: 'h', value: { high: 1, low: 0 } },
    );
    expect(out).toMatchObject({ x: -1.5, y: 0.2505, z: 4294967.296 });
  });

  it.each([
    [{ high: 0, low: -1 }, 4_294_967_295],
    [{ high: -1, low: -1 }, -1],
    [{ high: -1, low: 0 }, -4_294_967_296],
  ])("reads the 64-bit integer %o as %d (two's complement)", (value, x) => {
    expect(read([route()], HERE, { type: 'h', value }, f(0), f(0))).toHaveProperty('x', x);
  });

  it.each([
    // sensor (1, 2, 3): [sensor axis for x, y, z] gives
    [
      ['x', 'y', 'z'],
      [1, 2, 3],
    ],
    [
      ['x', 'z', 'y'],
      [1, 3, 2],
    ],
    [
      ['x', '-z', 'y'],
      [1, -3, 2],
    ],
    [
      ['-y', 'x', '-z'],
      [-2, 1, -3],
    ],
    [
      ['z', 'x', 'y'],
      [3, 1, 2],
    ],
  ] as const)('permutes by %o', (axes, [x, y, z]) => {
    expect(read([route({ axes })], HERE, f(1), f(2), f(3))).toMatchObject({ x, y, z });
  });

  it('gives 0, never -0, and 0 on an axis that does not come', () => {
    const options = route({ arguments: layout('x', 'y'), axes: ['-x', '-z', 'y'] });
    const out = rawPosition();
    expect(readPosition(table(options), HERE, [f(0), f(7)], out)).toBeUndefined();
    expect([out.x, out.y, out.z]).toEqual([0, 0, 7]);
  });

  const fixed = route({ address: '/pos', arguments: layout('tracker', 'x', 'y', 'z') });
  it.each([
    ['no-route', '/elsewhere', [f(1), f(2), f(3)]],
    ['no-route', '/tracker//position', [f(1), f(2), f(3)]],
    ['pattern-address', '/tracker/*/position', [f(1), f(2), f(3)]],
    ['tracker-name', `/tracker/${'x'.repeat(65)}/position`, [f(1), f(2), f(3)]],
    ['argument-count', HERE, []],
    ['argument-count', HERE, [f(1), f(2)]],
    ['argument-count', HERE, [f(1), f(2), f(3), f(1), f(1)]],
    ['argument-type', HERE, [f(1), s('2'), f(3)]],
    ['argument-type', HERE, [f(1), { type: 'T', value: true }, f(3)]],
    ['argument-type', HERE, [f(1), [f(2)], f(3)]],
    ['not-finite', HERE, [f(Number.NaN), f(2), f(3)]],
    ['not-finite', HERE, [f(1), f(Number.POSITIVE_INFINITY), f(3)]],
    ['not-finite', HERE, [f(1), f(2), f(3), f(Number.NaN)]],
    ['quality-range', HERE, [f(1), f(2), f(3), f(1.01)]],
    ['quality-range', HERE, [f(1), f(2), f(3), f(-0.01)]],
    ['argument-type', '/pos', [f(1), f(1), f(2), f(3)]],
    ['argument-type', '/pos', [[s('Ines')], f(1), f(2), f(3)]],
    ['tracker-name', '/tracker/a\u001bc/position', [f(1), f(2), f(3)]],
    ['tracker-name', '/pos', [s('Ines\n'), f(1), f(2), f(3)]],
    ['tracker-name', '/pos', [s('Ines\u007f'), f(1), f(2), f(3)]],
    ['tracker-name', '/pos', [s(''), f(1), f(2), f(3)]],
    ['tracker-name', '/pos', [s('x'.repeat(65)), f(1), f(2), f(3)]],
  ] as [string, string, OscArgument[]][])('%s: %s %o', (reason, address, args) => {
    expect(read([route(), fixed], address, ...args)).toBe(reason);
  });

  it('rejects a double that leaves the range when it is scaled', () => {
    const big: OscArgument = { type: 'd', value: 1e308 };
    expect(read([route({ unitM: 1000 })], HERE, big, f(0), f(0))).toBe('not-finite');
  });

  it('takes the first route that matches, and a pattern for a route of one address', () => {
    const any = route({ address: '/{tracker}', arguments: layout('x', 'y') });
    expect(read([fixed, any], '/pos', s('Ines'), f(1), f(2), f(3))).toMatchObject({ x: 1, z: 3 });
    expect(read([any, fixed], '/pos', f(1), f(2))).toMatchObject({ tracker: 'pos' });
    expect(read([any, fixed], '/p?s', s('Ines'), f(1), f(2), f(3))).toMatchObject({
      tracker: 'Ines',
    });
  });

  it('any arguments: a declared reason or finite metres', () => {
    const argument: fc.Arbitrary<OscArgument> = fc.oneof(
      fc.record({ type: fc.constantFrom('f' as const, 'd' as const), value: fc.double() }),
      fc.record({ type: fc.constant('i' as const), value: fc.integer() }),
      fc.record({ type: fc.constant('s' as const), value: fc.string() }),
      fc.record({
        type: fc.constant('h' as const),
        value: fc.record({ high: fc.integer(), low: fc.integer() }),
      }),
      fc.constant<OscArgument>([]),
    );
    const routes = table(route(), fixed);
    const out = rawPosition();
    fc.assert(
      fc.property(fc.constantFrom(HERE, '/pos', '/p*'), fc.array(argument), (address, args) => {
        const reason = readPosition(routes, address, args, out);
        if (reason !== undefined) expect(POSITION_REJECT_REASONS).toContain(reason);
        else expect([out.x, out.y, out.z].every(Number.isFinite)).toBe(true);
      }),
      { seed: 21, numRuns: 500 },
    );
  });
});

describe('address cache', () => {
  it('holds addresses that have a route, no others', () => {
    const routes = table(route());
    const out = rawPosition();
    for (let n = 0; n < 50; n++) readPosition(routes, `/unknown/${n}`, [], out);
    for (let n = 0; n < 50; n++) readPosition(routes, `/tracker/*${n}/position`, [], out);
    expect(routes.cache.size).toBe(0);
    readPosition(routes, HERE, [], out);
    readPosition(routes, HERE, [], out);
    expect([...routes.cache.keys()]).toEqual([HERE]);
  });

  it('is bounded, and stays right when it is full', () => {
    const routes = table(route());
    const out = rawPosition();
    for (let n = 0; n < 5000; n++) {
      readPosition(routes, `/tracker/${n}/position`, [f(1), f(2), f(3)], out);
      expect(out.tracker).toBe(String(n));
    }
    expect(routes.cache.size).toBe(1024);
    expect(readPosition(routes, '/tracker/0/position', [f(1), f(2), f(3)], out)).toBeUndefined();
    expect(out.tracker).toBe('0');
  });
});

describe('compiling routes', () => {
  const P = '/tracker/{tracker}/position';
  it.each([
    ['no-leading-slash', 'address', 'a', { address: 'a/{tracker}' }],
    ['no-tracker', 'address', '/pos', { address: '/pos' }],
    ['two-trackers', 'arguments', 'tracker', { arguments: layout('tracker', 'x', 'y') }],
    ['two-trackers', 'each', 'tracker', { arguments: [], each: layout('x', 'y') }],
    [
      'optional-tracker',
      'arguments',
      'tracker',
      { address: '/pos', arguments: layout('x', 'y', 'tracker?') },
    ],
    ['too-few-axes', 'arguments', 'x', { arguments: layout('x', 'y?', 'z?') }],
    ['too-few-axes', 'arguments', '', { arguments: [] }],
    ['too-few-axes', 'each', 'y', { address: '/p', arguments: [], each: layout('tracker', 'y') }],
    ['duplicate-role', 'arguments', 'x', { arguments: layout('x', 'y', 'z', 'x') }],
    [
      'optional-before-required',
      'arguments',
      'z',
      { arguments: layout('x', 'y', 'quality?', 'z') },
    ],
    [
      'optional-before-required',
      'arguments',
      'stamp',
      { address: '/p', arguments: layout('stamp?'), each: layout('tracker', 'x', 'y') },
    ],
    [
      'outside-each',
      'arguments',
      'quality',
      { address: '/p', arguments: layout('quality'), each: layout('tracker', 'x', 'y') },
    ],
    [
      'optional-in-each',
      'each',
      'z',
      { address: '/p', arguments: [], each: layout('tracker', 'x', 'y', 'z?') },
    ],
    ['unit-not-positive', 'unitM', '0', { unitM: 0 }],
    ['unit-not-positive', 'unitM', '-1', { unitM: -1 }],
    ['unit-not-positive', 'unitM', 'NaN', { unitM: Number.NaN }],
    ['unit-not-positive', 'unitM', 'Infinity', { unitM: Number.POSITIVE_INFINITY }],
    ['axes-not-a-permutation', 'axes', 'x, -x, z', { axes: ['x', '-x', 'z'] }],
    ['empty-box', 'box', 'y: 3', { box: { y: [3, 3] } }],
    ['empty-quality', 'quality', '2, 2', { quality: [2, 2] }],
  ] as [string, string, string, Partial<RouteOptions>][])('%s at %s: %s', (...row) => {
    const [reason, key, found, options] = row;
    const result = compileRoutes([route(options)]);
    if (reason === 'no-leading-slash') expect(result).toMatchObject({ errors: [{ reason, key }] });
    else expect(result).toEqual({ ok: false, errors: [{ route: 0, key, reason, found }] });
  });

  it('ignored arguments may come as often as they like', () => {
    expect(compileRoutes([route({ arguments: layout('ignore', 'x', 'ignore', 'y') })]).ok).toBe(
      true,
    );
  });

  it('parts of a position have one unit and one order of axes, whatever stands beside them', () => {
    const part = (axis: string, more: Partial<RouteOptions> = {}) =>
      route({ address: `${P}/${axis}`, arguments: layout(axis), ...more });
    const loose = part('quality', { unitM: 2, axes: ['z', 'y', 'x'] });
    expect(compileRoutes([part('x'), part('y'), loose]).ok).toBe(true);
    expect(compileRoutes([route(), loose]).ok).toBe(true);
    expect(compileRoutes([loose])).toMatchObject({
      errors: [{ route: 0, reason: 'too-few-axes' }],
    });
    expect(compileRoutes([route(), part('ignore')])).toMatchObject({
      errors: [{ route: 1, reason: 'too-few-axes' }],
    });
    expect(
      compileRoutes([part('x'), part('y', { unitM: 2 }), part('z', { axes: ['y', 'x', 'z'] })]),
    ).toEqual({
      ok: false,
      errors: [
        { route: 1, key: 'unitM', reason: 'parts-differ', found: '2' },
        { route: 2, key: 'axes', reason: 'parts-differ', found: 'y, x, z' },
      ],
    });
  });

  it('gathers no more than the axes that come in parts', () => {
    expect(table(route()).gathering).toBeUndefined();
    const parts = table(
      route({ address: '/{tracker}/a', arguments: layout('x') }),
      route({ address: '/{tracker}/b', arguments: layout('z') }),
    );
    expect(parts.gathering).toBeDefined();
  });

  it('gives the errors of all routes at once, with the key at fault', () => {
    const bad = route({ unitM: 0, axes: ['x', 'x', 'x'] });
    expect(compileRoutes([route(), bad])).toEqual({
      ok: false,
      errors: [
        {
          route: 1,
          key: 'address',
          reason: 'duplicate-address',
          found: '/tracker/{tracker}/position',
        },
        { route: 1, key: 'unitM', reason: 'unit-not-positive', found: '0' },
        { route: 1, key: 'axes', reason: 'axes-not-a-permutation', found: 'x, x, x' },
      ],
    });
  });

  it('accepts the 48 signed permutations and no other axes', () => {
    let accepted = 0;
    for (const x of SIGNED_AXES) {
      for (const y of SIGNED_AXES) {
        for (const z of SIGNED_AXES) {
          if (compileRoutes([route({ axes: [x, y, z] })]).ok) accepted++;
        }
      }
    }
    expect(accepted).toBe(48);
  });
});
