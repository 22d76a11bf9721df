import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { NO, type Truth, UNKNOWN, YES } from '../../src/signals/kleene.js';
import type { Arithmetic } from '../../src/signals/plan.js';
import type { Radians } from '../../src/stage/units.js';
import { Bench, COMPANY, DT_S, type Place, Plans } from './bench.js';

const SEED = 20261130;
const FAR: Place = { x: 20, y: 20 };
const STOVE: Place = { x: 2, y: 2 };
const everybody = [0, 1, 2];

/** All sources, and on top of them, at random, arithmetic and conditions. */
const made = fc.record({
  links: fc.array(
    fc.record({
      kind: fc.constantFrom(
        'product',
        'sum',
        'least',
        'greatest',
        'inverse',
        'smooth',
        'curve',
        'time',
        'above',
        'below',
        'all',
        'any',
        'not',
      ),
      a: fc.nat(),
      b: fc.nat(),
      on: fc.constantFrom(0.2, 0.5, 0.8, 1),
      gap: fc.constantFrom(0, 0.1, 0.2),
      forS: fc.constantFrom(0, 0, 0.1, 0.3),
      holdS: fc.constantFrom(0, 0, 0.2, 0.5),
    }),
    { minLength: 6, maxLength: 20 },
  ),
});

function plansOf({
  links,
}: {
  links: readonly {
    kind: string;
    a: number;
    b: number;
    on: number;
    gap: number;
    forS: number;
    holdS: number;
  }[];
}): Plans {
  const plans = new Plans();
  const to = { kind: 'point', x: 2, y: 2 } as const;
  plans.signal({ kind: 'presence', zone: 0, performers: everybody, every: false });
  plans.signal({ kind: 'presence', zone: 1, performers: [0, 1], every: true });
  plans.signal({ kind: 'presence', zone: 2, performers: [1, 2], every: false });
  plans.signal(
    { kind: 'distance', performers: everybody, to },
    { range: { from: 6, to: 1 }, curve: 'smooth' },
  );
  plans.signal(
    { kind: 'distance', performers: [0], to: { kind: 'performers', performers: [1, 2] } },
    { range: { from: 0, to: 8 } },
  );
  plans.signal(
    { kind: 'distance', performers: [1], to: { kind: 'zone', zone: 2 } },
    { range: { from: 4, to: 0 } },
  );
  plans.signal(
    {
      kind: 'along',
      performer: 0,
      line: [
        [0, 0],
        [6, 0],
        [6, 6],
      ],
    },
    { range: { from: 0, to: 12 } },
  );
  plans.signal({
    kind: 'across',
    performer: 1,
    zone: 1,
    directionX: 1,
    directionY: 0,
    fromM: 4,
    toM: 8,
  });
  plans.signal({ kind: 'speed', performers: everybody }, { range: { from: 0, to: 2 } });
  plans.signal(
    { kind: 'heading', performer: 2, towards: { kind: 'direction', angle: 0 as Radians } },
    { range: { from: Math.PI, to: 0 } },
  );
  plans.signal({ kind: 'count', zone: 0, performers: everybody }, { range: { from: 0, to: 3 } });
  plans.signal({ kind: 'wave', shape: 'sine', periodS: 1.3, phase: 0.2 });
  for (let i = 0; i < 3; i++) plans.above(i, 0.5, 0.3);
  for (const { kind, a, b, on, gap, forS, holdS } of links) {
    const [s, t] = [a % plans.signals.length, b % plans.signals.length];
    const [c, d] = [a % plans.conditions.length, b % plans.conditions.length];
    const both = [
      { kind: 'signal', signal: s },
      { kind: 'signal', signal: t },
    ] as const;
    switch (kind) {
      case 'inverse':
        plans.signal({ kind, signal: s });
        break;
      case 'smooth':
        plans.signal(
          { kind: 'sum', of: [{ kind: 'signal', signal: s }] },
          { attackS: on, releaseS: holdS },
        );
        break;
      case 'curve':
        // It goes up and down again.
        plans.signal(
          { kind: 'sum', of: [{ kind: 'signal', signal: s }] },
          {
            range: { from: -1, to: 2 },
            curve: [
              [0, 0],
              [0.5, 1],
              [0.8, 0.2],
              [1, 0.7],
            ],
          },
        );
        break;
      case 'time':
        plans.signal({ kind, condition: c }, { range: { from: 0, to: on } });
        break;
      case 'above':
        plans.above(s, on, on - gap, forS, holdS);
        break;
      case 'below':
        plans.condition(
          { kind: 'threshold', signal: s, direction: 'below', on, off: on + gap },
          forS,
          holdS,
        );
        break;
      case 'all':
      case 'any':
        plans.condition({ kind, of: [c, d] }, forS, holdS);
        break;
      case 'not':
        plans.condition({ kind, condition: c }, forS, holdS);
        break;
      default:
        plans.signal({ kind: kind as Arithmetic, of: [...both, { kind: 'number', value: on }] });
    }
  }
  return plans;
}

const somewhere = fc.record({
  x: fc.constantFrom(0, 2, 3.4, 5, 6.5, 12),
  y: fc.constantFrom(0, 2, 3.6, 5),
  vx: fc.constantFrom(0, 0.1, 1, -1.5),
  vy: fc.constantFrom(0, 0.4),
});
const walk = fc.array(
  fc.record({
    places: fc.tuple(somewhere, somewhere, somewhere),
    ticks: fc.integer({ min: 1, max: 25 }),
    loses: fc.option(fc.nat(COMPANY - 1), { freq: 2 }),
  }),
  { minLength: 3, maxLength: 14 },
);

describe('whatever the network, and whoever is lost', () => {
  test('what would be if nobody were lost is in the range of what may be; a known answer is that one', () => {
    let [unknown, known] = [0, 0];
    fc.assert(
      fc.property(made, walk, (links, turns) => {
        const plans = plansOf(links);
        const [live, lossy] = [new Bench(plans), new Bench(plans)];
        // Everybody is there at first: before that nothing is known of anything.
        const lost = new Set<number>();
        for (const { places, ticks, loses } of [
          { places: turns[0]?.places ?? [FAR, FAR, FAR], ticks: 40, loses: null },
          ...turns,
        ]) {
          if (loses !== null) lost.add(loses);
          for (let i = 0; i < ticks; i++) {
            live.tick(places);
            lossy.tick(places.map((place, p) => (lost.has(p) ? undefined : place)));
            plans.signals.forEach((_, s) => {
              const [[is], [lo, hi]] = [live.range(s), lossy.range(s)];
              if (!(lo <= is + 1e-9 && is <= hi + 1e-9)) {
                throw new Error(
                  `signal ${s} ${JSON.stringify(plans.signals[s])}: ${is} is not in ${lo} to ${hi}`,
                );
              }
            });
            plans.conditions.forEach((_, c) => {
              const [is, may] = [live.is(c), lossy.is(c)];
              if (may === UNKNOWN) unknown += 1;
              else {
                if (lost.size > 0) known += 1;
                if (is !== may)
                  throw new Error(
                    `condition ${c} ${JSON.stringify(plans.conditions[c])}: ${is}, and not ${may}`,
                  );
              }
            });
          }
        }
      }),
      { seed: SEED, numRuns: 150 },
    );
    // Both happened often.
    expect(Math.min(unknown, known)).toBeGreaterThan(10_000);
  });

  test('who has come back makes all of it known again, once for, hold and fades are over', () => {
    fc.assert(
      fc.property(made, walk, (links, turns) => {
        const plans = plansOf(links);
        const bench = new Bench(plans).run(1, [FAR, FAR, FAR]);
        for (const { places, ticks, loses } of turns) {
          bench.run(
            ticks * DT_S,
            places.map((place, p) => (p === loses ? undefined : place)),
          );
        }
        const last = turns.at(-1)?.places ?? [];
        bench.run(20, last);
        for (const c of plans.conditions.keys()) expect(bench.is(c)).not.toBe(UNKNOWN);
        plans.signals.forEach((_, s) => {
          const [lo, hi] = bench.range(s);
          expect(hi).toBe(lo);
        });
      }),
      { seed: SEED, numRuns: 60 },
    );
  });

  test('who is off stage is known to be', () => {
    const plans = new Plans();
    const presence = plans.signal({ kind: 'presence', zone: 0, performers: [0, 1], every: false });
    const count = plans.signal({ kind: 'count', zone: 0, performers: everybody });
    const distance = plans.signal(
      { kind: 'distance', performers: [0], to: { kind: 'point', x: 2, y: 2 } },
      { range: { from: 6, to: 1 } },
    );
    const anybody = plans.above(presence, 0.5);
    const nobody = plans.condition({ kind: 'not', condition: anybody });
    const bench = new Bench(plans).run(0.5, [STOVE, FAR, STOVE]);
    expect([bench.range(presence), bench.range(count), bench.range(distance)]).toEqual([
      [1, 1],
      [2, 2],
      [1, 1],
    ]);
    bench.run(0.5, ['away', FAR, STOVE]);
    expect([bench.range(presence), bench.range(count), bench.range(distance)]).toEqual([
      [0, 0],
      [1, 1],
      [0, 0],
    ]);
    expect([bench.is(anybody), bench.is(nobody)]).toEqual([NO, YES]);
    bench.run(0.5, [undefined, FAR, STOVE]);
    expect([bench.is(anybody), bench.is(nobody)]).toEqual([UNKNOWN, UNKNOWN]);
  });
});

describe('conditions', () => {
  test('are as they were between on and off', () => {
    const plans = new Plans();
    const level = plans.signal({ kind: 'osc', input: 0, address: '/a', argument: 0, timeoutS: 1 });
    const above = plans.above(level, 2, 1);
    const below = plans.condition({
      kind: 'threshold',
      signal: level,
      direction: 'below',
      on: 1,
      off: 2,
    });
    const bench = new Bench(plans);
    const heard: [number, Truth, Truth][] = [
      [1.5, NO, NO],
      [2, YES, NO],
      [1.5, YES, NO],
      [1, NO, YES],
      [1.5, NO, YES],
      [2, NO, NO],
    ];
    // The last is 2 for `above` as well.
    heard[5] = [2, YES, NO];
    for (const [value, isAbove, isBelow] of heard) {
      bench.hear(level, value);
      bench.tick([]);
      expect([value, bench.is(above), bench.is(below)]).toEqual([value, isAbove, isBelow]);
    }
  });

  test('for has to last, hold stays on', () => {
    const plans = new Plans();
    const level = plans.signal({ kind: 'osc', input: 0, address: '/a', argument: 0, timeoutS: 10 });
    const lasting = plans.above(level, 1, 1, 0.5);
    const held = plans.above(level, 1, 1, 0, 0.5);
    const bench = new Bench(plans);
    const at = (value: number, seconds: number) => {
      bench.hear(level, value);
      bench.run(seconds, []);
      return [bench.is(lasting), bench.is(held)];
    };
    expect(at(0, 0.1)).toEqual([NO, NO]);
    expect(at(1, 0.4)).toEqual([NO, YES]);
    expect(at(1, 0.125)).toEqual([YES, YES]);
    expect(at(0, 0.475)).toEqual([NO, YES]);
    expect(at(0, 0.05)).toEqual([NO, NO]);
  });

  test('for starts again after an unknown, hold goes on through it', () => {
    const plans = new Plans();
    const presence = plans.signal({ kind: 'presence', zone: 0, performers: [0], every: false });
    const lasting = plans.above(presence, 0.5, 0.3, 1);
    const held = plans.above(presence, 0.5, 0.3, 0, 2);
    const bench = new Bench(plans).run(2, [STOVE]);
    expect([bench.is(lasting), bench.is(held)]).toEqual([YES, YES]);
    bench.run(0.5, [undefined]);
    expect([bench.is(lasting), bench.is(held)]).toEqual([UNKNOWN, YES]);
    bench.run(1.6, [undefined]);
    expect(bench.is(held)).toBe(UNKNOWN);
    bench.run(0.8, [STOVE]);
    expect(bench.is(lasting)).toBe(UNKNOWN);
    bench.run(0.3, [STOVE]);
    expect(bench.is(lasting)).toBe(YES);
  });

  test('one of three lost takes nothing from what two others hold', () => {
    const plans = new Plans();
    const count = plans.signal({ kind: 'count', zone: 0, performers: everybody });
    const two = plans.above(count, 2, 1.5);
    const bench = new Bench(plans)
      .run(0.1, [STOVE, STOVE, STOVE])
      .run(0.1, [STOVE, STOVE, undefined]);
    expect([bench.range(count), bench.is(two)]).toEqual([[2, 3], YES]);
    bench.run(0.1, [STOVE, FAR, undefined]);
    expect([bench.range(count), bench.is(two)]).toEqual([[1, 2], UNKNOWN]);
    bench.run(0.1, [FAR, FAR, undefined]);
    expect([bench.range(count), bench.is(two)]).toEqual([[0, 1], NO]);
  });
});

describe('signals', () => {
  test('attack and release are the times of the whole way', () => {
    const plans = new Plans();
    const level = plans.signal(
      { kind: 'osc', input: 0, address: '/a', argument: 0, timeoutS: 10 },
      { attackS: 1, releaseS: 2 },
    );
    const bench = new Bench(plans);
    bench.hear(level, 1);
    expect(bench.run(0.5, []).range(level)[0]).toBeCloseTo(0.5, 9);
    expect(bench.run(1, []).range(level)[0]).toBe(1);
    bench.hear(level, 0);
    expect(bench.run(0.5, []).range(level)[0]).toBeCloseTo(0.75, 9);
  });

  test('a number by OSC is unknown before the first, and after its timeout', () => {
    const plans = new Plans();
    const level = plans.signal(
      { kind: 'osc', input: 0, address: '/a', argument: 0, timeoutS: 0.5 },
      { range: { from: 0, to: 10 } },
    );
    const bench = new Bench(plans).run(0.1, []);
    expect(bench.range(level)).toEqual([0, 1]);
    bench.hear(level, 4);
    expect(bench.run(0.4, []).range(level)).toEqual([0.4, 0.4]);
    expect(bench.run(0.2, []).range(level)).toEqual([0, 1]);
    expect(bench.network.doubts.fadeS[level]).toBe(2);
  });

  test('between on and off a threshold is as it was after a full loss: no light of a `not` comes up', () => {
    const plans = new Plans();
    const distance = plans.signal({
      kind: 'distance',
      performers: [0],
      to: { kind: 'point', x: 0, y: 0 },
    });
    const near = plans.condition({
      kind: 'threshold',
      signal: distance,
      direction: 'below',
      on: 1,
      off: 3,
    });
    const gone = plans.condition({ kind: 'not', condition: near });
    const bench = new Bench(plans).run(0.1, [{ x: 0.5, y: 0 }]).run(0.1, [{ x: 2, y: 0 }]);
    expect([bench.is(near), bench.is(gone)]).toEqual([YES, NO]);
    bench.run(4, [undefined]);
    expect([bench.is(near), bench.is(gone)]).toEqual([UNKNOWN, UNKNOWN]);
    // The bench has nothing left to go on from.
    bench.run(1, [{ x: 2, y: 0 }]);
    expect([bench.is(near), bench.is(gone)]).toEqual([YES, NO]);
    bench
      .run(0.1, [{ x: 4, y: 0 }])
      .run(4, [undefined])
      .run(1, [{ x: 2, y: 0 }]);
    expect([bench.is(near), bench.is(gone)]).toEqual([NO, YES]);
  });

  test('time in a condition goes on from where it was after a full loss; where it was no, from 0', () => {
    const plans = new Plans();
    const presence = plans.signal({ kind: 'presence', zone: 0, performers: [0], every: false });
    const time = plans.signal({ kind: 'time', condition: plans.above(presence, 0.5) });
    const bench = new Bench(plans).run(1, [STOVE]);
    expect(bench.range(time)[0]).toBeCloseTo(1, 6);
    bench.run(1, [undefined]);
    expect(bench.range(time)[1]).toBeCloseTo(2, 6);
    bench.tick([STOVE]);
    expect(bench.range(time)[0]).toBeCloseTo(1 + DT_S, 6);
    expect(bench.range(time)[1]).toBe(bench.range(time)[0]);
    expect(bench.run(1, [FAR]).range(time)).toEqual([0, 0]);
    bench.run(1, [undefined]).tick([STOVE]);
    expect(bench.range(time)).toEqual([DT_S, DT_S]);
  });

  test('too slow to have a direction, a heading stays as it was', () => {
    const plans = new Plans();
    const heading = plans.signal({
      kind: 'heading',
      performer: 0,
      towards: { kind: 'direction', angle: 0 as Radians },
    });
    const bench = new Bench(plans).tick([FAR]);
    expect(bench.range(heading)).toEqual([Math.PI, Math.PI]);
    bench.tick([{ ...FAR, vy: 1 }]);
    expect(bench.range(heading)[0]).toBeCloseTo(Math.PI / 2, 12);
    bench.tick([{ ...FAR, vy: 0.1 }]);
    expect(bench.range(heading)[0]).toBeCloseTo(Math.PI / 2, 12);
    bench.tick([undefined]);
    expect(bench.range(heading)).toEqual([0, Math.PI]);
  });
});
