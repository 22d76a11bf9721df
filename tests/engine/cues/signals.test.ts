import { describe, expect, test } from 'vitest';
import type { OscMessage } from '../../../src/protocols/osc/encode.js';
import { type Place, Rig } from '../harness.js';
import { HOUSE } from '../shows.js';

/** The test house with other mappings, and signals and conditions for them. */
const houseWith = (blocks: string) =>
  HOUSE.replace(/mappings:[\s\S]*watchdog:/, `${blocks}\nwatchdog:`);
const sway = (places: Readonly<Record<string, Place>>) => (t: number) =>
  Object.fromEntries(
    Object.entries(places).map(([id, [x, y, z = 1.6]]) => [
      id,
      [x + 0.01 * Math.sin(40 * t), y, z] as const,
    ]),
  );

const STOVE = [2, 6] as const;
const WINDOW = [8.2, 7] as const;
const MIDDLE = [5, 4] as const;

describe('a number by OSC', () => {
  const wind = (args: OscMessage['args']): OscMessage => ({ address: '/sound/wind', args });
  const float = (value: number) =>
    wind([
      { type: 'i', value: 7 },
      { type: 'f', value },
    ]);
  const rigOf = (timeout: number | string) =>
    new Rig(
      houseWith(`signals:
  wind: { osc: { address: /sound/wind, argument: 2, timeout: ${timeout} }, range: [0, 10] }
mappings:
  - { by: wind, fixtures: [stove-glow], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }`),
    );

  test('drives light while it is heard; silent, it goes to its safe values, and says so', () => {
    const rig = rigOf(1);
    rig.run(3, {}, one => one.send(float(5)));
    expect(rig.level('stove-glow')).toBeCloseTo(40, 0);
    // The last one is in the next tick.
    expect(rig.view.counters.numbers).toBe(119);
    expect(rig.eventsOf('signal')).toEqual([]);
    rig.run(1.1);
    expect(rig.eventsOf('signal').map(({ signal, silent }) => [signal, silent])).toEqual([
      ['wind', true],
    ]);
    const held = rig.level('stove-glow');
    expect(held).toBeLessThan(41);
    rig.run(2.2);
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
    rig.run(2, {}, one => one.send(float(10)));
    expect(rig.level('stove-glow')).toBeCloseTo(80, 0);
    expect(rig.eventsOf('signal').at(-1)?.silent).toBe(false);
  });

  test('never silent, it stays what it was', () => {
    const rig = rigOf('never');
    rig.send(float(5));
    rig.run(10);
    expect(rig.level('stove-glow')).toBeCloseTo(40, 0);
    expect(rig.eventsOf('signal')).toEqual([]);
  });

  test('true is 1; what is no number is counted, and changes nothing', () => {
    const rig = rigOf(1);
    rig.run(3, {}, one =>
      one.send(
        wind([
          { type: 'i', value: 7 },
          { type: 'T', value: true },
        ]),
      ),
    );
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    const before = { ...rig.view.counters.drops };
    rig.send(
      wind([
        { type: 'i', value: 7 },
        { type: 's', value: 'gale' },
      ]),
    );
    rig.send(wind([{ type: 'i', value: 7 }]));
    rig.send(float(Number.NaN));
    rig.tick();
    const { drops } = rig.view.counters;
    for (const reason of ['argument-type', 'argument-count', 'not-finite'] as const) {
      expect(drops[reason]).toBe(before[reason] + 1);
    }
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
  });
});

describe('a follow with a condition', () => {
  const rigOf = () =>
    new Rig(
      houseWith(`mappings:
  - { follow: ines, when: { in: window, of: tobias }, fixtures: [lit-head], set: { Dimmer: 60 }, fade: { in: 0.5, out: 0.5 } }`),
    );

  test('gives light while it is yes', () => {
    const rig = rigOf().run(6, sway({ 1: STOVE, 2: WINDOW }));
    expect(rig.level('lit-head')).toBeCloseTo(60, 1);
    expect(rig.beamMisses('lit-head', [2, 6, 1.6])).toBeLessThan(0.1);
    rig.run(2, sway({ 1: STOVE, 2: MIDDLE }));
    expect(rig.level('lit-head')).toBe(0);
    // In the dark it goes on after her.
    rig.run(3, sway({ 1: MIDDLE, 2: MIDDLE }));
    expect(rig.beamMisses('lit-head', [5, 4, 1.6])).toBeLessThan(0.1);
  });

  test.each(['1', '2'])(
    'tracker %s is lost: dark, then to its safe aim and its safe light',
    lost => {
      const rig = rigOf().run(6, sway({ 1: STOVE, 2: WINDOW }));
      const pan = rig.level('lit-head', 'Pan');
      const left = Object.entries({ 1: STOVE, 2: WINDOW }).filter(([id]) => id !== lost);
      let lit = rig.level('lit-head');
      rig.run(2.4, sway(Object.fromEntries(left)), one => {
        const now = one.level('lit-head');
        expect(now).toBeLessThanOrEqual(lit + 1e-6);
        lit = now;
        if (now > 0 && lost === '1') expect(one.level('lit-head', 'Pan')).toBeCloseTo(pan, 1);
      });
      rig.run(8, sway(Object.fromEntries(left)));
      const light = rig.light('lit-head');
      expect([...light.values]).toEqual([...light.plan.safe]);
    },
  );
});

describe('a zone that moves', () => {
  const rigOf = () =>
    new Rig(
      houseWith(
        'mappings:\n  - { zone: near-ines, performers: [tobias], fixtures: [stove-glow], set: { Dimmer: 90 }, fade: { in: 0, out: 0 } }',
      ).replace(
        'zones:',
        'zones:\n  near-ines: { circle: { around: ines, radius: 1.5 }, feather: 0.5, hysteresis: 0 }',
      ),
    );

  test('goes with its performer', () => {
    const rig = rigOf().run(3, sway({ 1: STOVE, 2: MIDDLE }));
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    rig.run(3, t => sway({ 1: [2 + t, 6 - 0.6 * t], 2: MIDDLE })(t));
    expect(rig.level('stove-glow')).toBeCloseTo(90, 0);
  });

  test.each(['1', '2'])('tracker %s is lost: to its safe value', lost => {
    const rig = rigOf().run(3, sway({ 1: MIDDLE, 2: MIDDLE }));
    expect(rig.level('stove-glow')).toBeCloseTo(90, 0);
    rig.run(4, sway({ [lost === '1' ? '2' : '1']: MIDDLE }));
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  });
});

describe('how mappings of one lamp meet', () => {
  const lampWith = (...mappings: string[]) => {
    const rig = new Rig(
      houseWith(`signals:
  tall: { height: ines, range: [0, 2] }
mappings:\n${mappings.map(one => `  - { ${one}, fixtures: [stove-glow], fade: { in: 0, out: 0 } }`).join('\n')}`),
    );
    return rig.run(3, sway({ 1: [2, 6, 1], 2: WINDOW })).level('stove-glow');
  };
  const INES = 'when: { in: stove, of: ines }';
  const TOBIAS = 'when: { in: window, of: tobias }';
  const NOT = 'when: { in: stove, of: tobias }';

  test.each([
    ['the highest counts', [`${INES}, set: { Dimmer: 40 }`, `${TOBIAS}, set: { Dimmer: 60 }`], 60],
    ['at half its level it asks for half', [`by: tall, set: { Dimmer: 60 }`], 30],
    [
      'and between two looks for what is between them',
      ['by: tall, from: { Dimmer: 90 }, set: { Dimmer: 30 }'],
      60,
    ],
    ['add', [`${INES}, set: { Dimmer: 40 }`, `${TOBIAS}, set: { Dimmer: 25 }, mix: add`], 65],
    [
      'a sum is full at most, before it is scaled',
      [
        `${TOBIAS}, set: { Dimmer: 50 }, mix: scale`,
        `${INES}, set: { Dimmer: 90 }`,
        `${TOBIAS}, set: { Dimmer: 90 }, mix: add`,
      ],
      50,
    ],
    ['scale', [`${INES}, set: { Dimmer: 40 }`, `${TOBIAS}, set: { Dimmer: 25 }, mix: scale`], 10],
    [
      'a half of scale',
      [`${TOBIAS}, set: { Dimmer: 40 }`, 'by: tall, set: { Dimmer: 0 }, mix: scale'],
      20,
    ],
    [
      'a higher priority',
      [`${INES}, set: { Dimmer: 40 }`, `${TOBIAS}, set: { Dimmer: 25 }, priority: 1`],
      25,
    ],
    ['it lies over the base as well', [`${TOBIAS}, set: { Dimmer: 0 }, priority: 1`], 0],
    [
      'one that does not act lies over nothing',
      [`${INES}, set: { Dimmer: 40 }`, `${NOT}, set: { Dimmer: 25 }, priority: 1`],
      40,
    ],
    [
      'half of it lies over half',
      [`${INES}, set: { Dimmer: 40 }`, 'by: tall, set: { Dimmer: 0 }, priority: 1'],
      20,
    ],
    [
      'first the sum, then the scale',
      [
        `${TOBIAS}, set: { Dimmer: 50 }, mix: scale`,
        `${INES}, set: { Dimmer: 40 }`,
        `${TOBIAS}, set: { Dimmer: 20 }, mix: add`,
      ],
      30,
    ],
  ] as const)('%s', (_, mappings, expected) => {
    expect(lampWith(...mappings)).toBeCloseTo(expected, 0);
  });
});

test('under a condition that is not known a known signal lights up no more than was lit', () => {
  const rig = new Rig(
    houseWith(`signals: { near: { distance: [tobias, [8, 2]], range: [5, 1] } }
mappings:
  - { when: { in: stove, of: ines }, by: near, fixtures: [window-inverse], set: { Dimmer: 90 }, fade: { in: 0, out: 0 } }`)
      .replace(
        'universe: 1, address: 20, safe: { Dimmer: 10 }',
        'universe: 1, address: 20, safe: { Dimmer: 0 }',
      )
      .replace('trackerSilent: { after: 0.5, fade: 2 }', 'trackerSilent: { after: 0.5, fade: 20 }'),
  ).run(6, sway({ 1: STOVE, 2: [3, 2] }));
  expect(rig.level('window-inverse')).toBeCloseTo(0, 0);
  rig.run(1, sway({ 2: [3, 2] }));
  let most = 0;
  rig.run(4, t => {
    most = Math.max(most, rig.level('window-inverse'));
    return sway({ 2: [3 + Math.min(5, 2 * t), 2] })(t);
  });
  expect(most).toBeLessThan(1);
  // Below that it goes on: with Tobias there again when she comes back, it is up.
  rig.run(4, sway({ 1: STOVE, 2: [8, 2] }));
  expect(rig.level('window-inverse')).toBeGreaterThan(80);
});

test('at the start nothing is known: its safe value, until everybody is believed on whom it rests', () => {
  const rig = new Rig(
    houseWith(
      'mappings:\n  - { when: { not: { in: window, of: [ines, tobias] } }, fixtures: [stove-glow], set: { Dimmer: 90 } }',
    ),
  ).run(2);
  expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  rig.run(4, sway({ 1: STOVE }));
  // Nobody knows where Tobias is.
  expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  rig.run(4, sway({ 1: STOVE, 2: MIDDLE }));
  expect(rig.level('stove-glow')).toBeCloseTo(90, 0);
});

// Read as a no, either would take the light down at once: no safer, but not what the stage was promised.
test.each([
  ['a condition', '{ in: window, of: tobias }', WINDOW],
  ['not of one', '{ not: { in: window, of: tobias } }', MIDDLE],
] as const)(
  '%s that is not known any more: the light goes from as it was to safe, in its time',
  (_, when, tobias) => {
    const rig = new Rig(
      houseWith(
        `mappings:\n  - { when: ${when}, fixtures: [stove-glow], set: { Dimmer: 90 }, fade: { in: 0, out: 0 } }`,
      ),
    ).run(6, sway({ 1: STOVE, 2: tobias }));
    expect(rig.level('stove-glow')).toBeCloseTo(90, 0);
    // Silent after 0.5 s, then 2 s from 90 to 20 %: half way after another second.
    rig.run(1.5, sway({ 1: STOVE }));
    expect(rig.level('stove-glow')).toBeGreaterThan(50);
    expect(rig.level('stove-glow')).toBeLessThan(60);
    rig.run(2, sway({ 1: STOVE }));
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  },
);

describe('what two signals ask of one lamp', () => {
  const say = (rig: Rig, address: string, value: number) =>
    rig.send({ address, args: [{ type: 'f', value }] });
  const rigOf = (mappings: readonly string[]) =>
    new Rig(
      houseWith(`signals:
  a: { osc: { address: /a, timeout: never }, range: [0, 1] }
  b: { osc: { address: /b, timeout: never }, range: [0, 1] }
mappings:
${mappings.map(one => `  - { ${one}, fade: { in: 0, out: 0 } }`).join('\n')}`),
    );
  const bothWays = (first: string, second: string) =>
    [
      ['one first', [first, second]],
      ['the other first', [second, first]],
    ] as const;

  test.each(
    bothWays(
      'by: a, fixtures: [stove-glow], mix: latest, set: { Dimmer: 80 }',
      'by: b, fixtures: [stove-glow], mix: latest, set: { Dimmer: 30 }',
    ),
  )('by the latest is that of who rose last, whichever stands first: %s', (_, mappings) => {
    const rig = rigOf(mappings);
    const levelAfter = (address: string, value: number) => {
      say(rig, address, value);
      rig.run(1);
      return Math.round(rig.level('stove-glow'));
    };
    for (const address of ['/a', '/b']) say(rig, address, 0);
    rig.run(4);
    expect(levelAfter('/a', 1)).toBe(80);
    expect(levelAfter('/b', 1)).toBe(30);
    expect(levelAfter('/a', 0)).toBe(30);
    expect(levelAfter('/a', 1)).toBe(80);
    expect(levelAfter('/b', 0)).toBe(80);
    expect(levelAfter('/b', 1)).toBe(30);
    expect(levelAfter('/b', 0)).toBe(80);
  });

  test.each(
    bothWays(
      'by: a, fixtures: [window-wash], mix: highest, set: { ColorAdd_R: 40 }',
      'by: b, fixtures: [window-wash], mix: highest, set: { ColorAdd_R: 90 }',
    ),
  )('by the highest is that of a colour too, whoever rose last: %s', (_, mappings) => {
    for (const order of [
      ['/a', '/b'],
      ['/b', '/a'],
    ]) {
      const rig = rigOf(mappings);
      for (const address of ['/a', '/b']) say(rig, address, 0);
      rig.run(4);
      const red = rig.level('window-wash', 'ColorAdd_R');
      for (const address of order) {
        say(rig, address, 1);
        rig.run(1);
      }
      expect(rig.level('window-wash', 'ColorAdd_R')).toBeCloseTo(Math.max(red, 90), 0);
      say(rig, '/b', 0);
      rig.run(1);
      expect(rig.level('window-wash', 'ColorAdd_R')).toBeCloseTo(Math.max(red, 40), 0);
    }
  });
});
