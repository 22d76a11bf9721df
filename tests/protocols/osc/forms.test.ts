import { describe, expect, it } from 'vitest';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import { positionMessages } from '../../../src/protocols/osc/position-message.js';
import { readPositions } from '../../../src/protocols/osc/read-positions.js';
import {
  compileRoutes,
  type RouteOptions,
  type RouteRole,
} from '../../../src/protocols/osc/route.js';
import { type RawPosition, rawPosition } from '../../../src/protocols/raw-position.js';

const roles = (...names: RouteRole[]) => names.map(role => ({ role, optional: false }));
const route = (address: string, options: Partial<RouteOptions> = {}): RouteOptions => ({
  address,
  arguments: roles('x', 'y', 'z'),
  unitM: 1,
  axes: ['x', 'y', 'z'],
  ...options,
});
const f = (value: number): OscArgument => ({ type: 'f', value });
const i = (value: number): OscArgument => ({ type: 'i', value });
const s = (value: string): OscArgument => ({ type: 's', value });

/** Reads messages, and collects what comes of them. */
class Feed {
  readonly positions: RawPosition[] = [];
  readonly rejected: string[] = [];
  readonly #table;
  readonly #raw = rawPosition();
  atS = 100;

  constructor(...routes: RouteOptions[]) {
    const compiled = compileRoutes(routes);
    if (!compiled.ok) throw new Error(JSON.stringify(compiled.errors));
    this.#table = compiled.table;
  }

  get bounds() {
    return this.#table.gathering?.trackers.size;
  }

  send(address: string, ...args: OscArgument[]): this {
    readPositions(this.#table, address, args, this.atS, this.#raw, {
      position: raw => this.positions.push({ ...raw }),
      rejected: reason => this.rejected.push(reason),
    });
    return this;
  }

  /** Tracker, x, y, z of each position so far. */
  get places() {
    return this.positions.map(({ tracker, x, y, z }) => [tracker, x, y, z]);
  }
}

describe('a tracker inside of a name', () => {
  it.each([
    ['/tracker{tracker}/position', '/tracker7/position'],
    ['/t-{tracker}-now', '/t-7-now'],
    ['/{tracker}.xyz', '/7.xyz'],
  ])('%s on %s', (address, sent) => {
    expect(new Feed(route(address)).send(sent, f(1), f(2), f(3)).places).toEqual([['7', 1, 2, 3]]);
  });

  it('has to be there', () => {
    const feed = new Feed(route('/tracker{tracker}/position'));
    expect(feed.send('/tracker/position', f(1), f(2), f(3)).rejected).toEqual(['no-route']);
  });
});

describe('an axis a message', () => {
  const axes = [
    route('/t/{tracker}/x', { arguments: roles('x') }),
    route('/t/{tracker}/y', { arguments: roles('y') }),
    route('/t/{tracker}/z', { arguments: roles('z') }),
  ];

  it('the last of them makes the position, in whatever order they come', () => {
    const feed = new Feed(...axes);
    feed.send('/t/7/x', f(1)).send('/t/8/z', f(6)).send('/t/7/y', f(2)).send('/t/8/x', f(4));
    expect(feed.positions).toEqual([]);
    feed.send('/t/7/z', f(3)).send('/t/8/y', f(5));
    expect(feed.places).toEqual([
      ['7', 1, 2, 3],
      ['8', 4, 5, 6],
    ]);
    expect(feed.rejected).toEqual([]);
  });

  it('one that is lost costs one position, and no two are mixed', () => {
    const feed = new Feed(...axes);
    feed.send('/t/7/x', f(1)).send('/t/7/z', f(1)); // y is lost
    feed.atS += 0.02;
    feed.send('/t/7/x', f(2)).send('/t/7/y', f(2)).send('/t/7/z', f(2));
    expect(feed.places).toEqual([['7', 2, 2, 2]]);
    expect(feed.rejected).toEqual(['axis-missing']);
  });

  it('what comes later than 50 ms begins anew', () => {
    const feed = new Feed(...axes);
    feed.send('/t/7/x', f(1));
    feed.atS += 0.06;
    feed.send('/t/7/y', f(2)).send('/t/7/z', f(2)).send('/t/7/x', f(2));
    expect(feed.places).toEqual([['7', 2, 2, 2]]);
    expect(feed.rejected).toEqual(['axis-missing']);
  });

  it('quality and charge may have messages of their own, and stand until they change', () => {
    const quality = route('/t/{tracker}/q', { arguments: roles('quality'), quality: [0, 100] });
    const feed = new Feed(...axes, quality).send('/t/7/q', f(40));
    const whole = () => feed.send('/t/7/x', f(1)).send('/t/7/y', f(2)).send('/t/7/z', f(3));
    whole();
    whole();
    feed.send('/t/7/q', f(100));
    whole();
    expect(feed.positions.map(one => one.quality)).toEqual([0.4, 0.4, 1]);
    const beside = new Feed(route('/t/{tracker}'), { ...quality, address: '/q/{tracker}' });
    beside.send('/q/7', f(50)).send('/t/7', f(1), f(2), f(3)).send('/t/8', f(1), f(2), f(3));
    expect(beside.positions.map(one => one.quality)).toEqual([0.5, undefined]);
  });

  it('a floor alone has two, and a unit and axes are of the position', () => {
    const options = { unitM: 0.001, axes: ['y', '-x', 'z'] } as const;
    const feed = new Feed(
      route('/x', { arguments: roles('tracker', 'x'), ...options }),
      route('/y', { arguments: roles('tracker', 'y'), ...options }),
    );
    expect(feed.send('/x', s('gull'), f(1500)).send('/y', s('gull'), i(2000)).places).toEqual([
      ['gull', 2, -1.5, 0],
    ]);
  });

  it('is bounded: the tracker that waited longest goes', () => {
    const feed = new Feed(...axes);
    for (let n = 0; n < 5000; n++) feed.send(`/t/${n}/x`, f(1));
    expect(feed.bounds).toBe(1024);
  });

  it.each([
    ['one axis and no more', [route('/{tracker}/x', { arguments: roles('x') })]],
    ['quality without positions', [route('/{tracker}/q', { arguments: roles('quality') })]],
    [
      'nothing at all',
      [route('/{tracker}/q', { arguments: roles('ignore') }), route('/{tracker}')],
    ],
  ])('is refused: %s', (_, routes) => {
    expect(compileRoutes(routes)).toMatchObject({
      ok: false,
      errors: [{ route: 0, reason: 'too-few-axes' }],
    });
  });
});

describe('several trackers in one message', () => {
  const each = roles('tracker', 'x', 'y', 'z');
  const feed = () => new Feed(route('/all', { arguments: [], each }));

  it('each has a position', () => {
    expect(feed().send('/all', i(7), f(1), f(2), f(3), s('gull'), f(4), f(5), f(6)).places).toEqual(
      [
        ['7', 1, 2, 3],
        ['gull', 4, 5, 6],
      ],
    );
    expect(feed().send('/all').positions).toEqual([]);
  });

  it('each may stand in an array of its own', () => {
    const group = (tracker: number): OscArgument => [i(tracker), f(1), f(2), f(3)];
    expect(
      feed()
        .send('/all', group(7), group(8))
        .places.map(([tracker]) => tracker),
    ).toEqual(['7', '8']);
  });

  it('what stands before them is of all', () => {
    const stamped = new Feed(route('/all', { arguments: roles('ignore', 'stamp'), each }));
    stamped.send(
      '/all',
      i(2),
      { type: 'd', value: 12.5 },
      i(7),
      f(1),
      f(2),
      f(3),
      i(8),
      f(1),
      f(2),
      f(3),
    );
    expect(stamped.positions.map(one => one.stampS)).toEqual([12.5, 12.5]);
  });

  it('one that is wrong takes no other with it; a wrong number of arguments takes all', () => {
    const mixed = feed().send('/all', i(7), f(Number.NaN), f(2), f(3), i(8), f(4), f(5), f(6));
    expect(mixed.places).toEqual([['8', 4, 5, 6]]);
    expect(mixed.rejected).toEqual(['not-finite']);
    expect(feed().send('/all', i(7), f(1), f(2)).rejected).toEqual(['argument-count']);
  });
});

describe('shares of a box, and another scale of quality', () => {
  it('are metres in the unit, before the axes are mapped', () => {
    const box = route('/t/{tracker}', {
      arguments: roles('x', 'y', 'z', 'quality'),
      box: { x: [-600, 600], y: [1000, 0] },
      unitM: 0.01,
      axes: ['x', 'y', 'z'],
      quality: [3, 0],
    });
    const feed = new Feed(box).send('/t/7', f(0.75), f(0.25), f(140), f(0.75));
    expect(feed.places).toEqual([['7', 3, 7.5, 1.4000000000000001]]);
    expect(feed.positions[0]?.quality).toBe(0.75);
    expect(feed.send('/t/7', f(0), f(0), f(0), f(3.1)).rejected).toEqual(['quality-range']);
  });

  it('outside of the box they go on', () => {
    const feed = new Feed(route('/t/{tracker}', { box: { x: [0, 10] } }));
    expect(feed.send('/t/7', f(-0.1), f(0), f(0)).places).toEqual([['7', -1, 0, 0]]);
  });

  it.each([
    ['empty-box', { box: { x: [2, 2] } }],
    ['empty-quality', { quality: [1, 1] }],
    ['two-trackers', { arguments: [], each: roles('tracker', 'x', 'y') }],
    ['two-trackers', { arguments: [], each: roles('x', 'y', 'z') }],
  ] as [string, Partial<RouteOptions>][])('%s: %o', (reason, options) => {
    expect(compileRoutes([route('/t/{tracker}', options)])).toMatchObject({
      ok: false,
      errors: [{ reason }],
    });
  });
});

describe('the messages of a position', () => {
  it.each<[string, RouteOptions[]]>([
    ['parts', [
      route('/t{tracker}/x', { arguments: roles('x'), box: { x: [-6, 6] }, axes: ['x', '-z', 'y'] }),
      route('/t{tracker}/yz', { arguments: roles('y'), axes: ['x', '-z', 'y'] }),
      route('/t{tracker}/z', { arguments: roles('z', 'stamp'), axes: ['x', '-z', 'y'] }),
      route('/t{tracker}/q', { arguments: roles('quality'), quality: [0, 100] }),
    ]],
    ['a group', [route('/all', { arguments: roles('stamp'), each: roles('tracker', 'z', 'x', 'y', 'quality'), unitM: 0.3048 })]],
    ['a box', [route('/t/{tracker}', { arguments: roles('x', 'y', 'z', 'quality', 'stamp'), box: { y: [10, 0], z: [0, 3] } })]],
  ])('read back: %s', (_, routes) => {
    const feed = new Feed(...routes);
    for (const { address, args } of positionMessages(routes, '7', { x: 1, y: 2, z: 3 }, 0.5, 12.25, 'd')) {
      feed.send(address, ...args);
    }
    const [last] = feed.positions.slice(-1);
    expect(last).toMatchObject({ tracker: '7', stampS: 12.25 });
    expect([last?.x, last?.y, last?.z].map(one => one?.toFixed(9))).toEqual(['1.000000000', '2.000000000', '3.000000000']);
    // Of parts the quality comes last, and holds from then on.
    if (routes.length === 1) expect(last?.quality).toBe(0.5);
  }); // biome-ignore format: a row a case
});
