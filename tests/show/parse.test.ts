import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { loadShow } from '../../src/commands/files/show-file.js';
import { fallbackPlan, safeLook } from '../../src/show/model/safe-look.js';
import { parseShow } from '../../src/show/parse.js';
import { changed, configShow, MINIMAL } from './base.js';
import { showOf } from './show-of.js';

describe('the shows in config/', () => {
  const names = readdirSync(new URL('../../config/', import.meta.url))
    .filter(name => name.endsWith('.show.yaml'))
    .map(name => name.replace('.show.yaml', ''));

  test.each(names)('%s is in order', name => {
    const file = fileURLToPath(new URL(`../../config/${name}.show.yaml`, import.meta.url));
    expect(loadShow(file)).toMatchObject({ ok: true });
  });

  test('are those of the issue', () => {
    expect(names).toEqual(expect.arrayContaining(['minimal', 'salt-lantern']));
  });

  test('The Salt Lantern says what it says', () => {
    const show = showOf(configShow('salt-lantern'));
    expect(show.name).toBe('The Salt Lantern');
    expect(
      show.performers.map(({ label, trackers }) => [label, ...trackers.map(one => one.id)]),
    ).toEqual([
      ['Ines', '1'],
      ['Tobias', '2'],
      ['The Gull', '3'],
    ]);
    expect(show.inputs).toMatchObject([
      { carries: 'positions', listen: '127.0.0.1', port: 9010 },
      { carries: 'orders', listen: '127.0.0.1', port: 9011, allow: ['127.0.0.1'] },
    ]);
    expect(show.outputs).toMatchObject([
      { protocol: 'sacn', rateHz: 40, universes: [{ onWire: 1 }] },
      { protocol: 'artnet', rateHz: 40, universes: [{ onWire: 2 }] },
    ]);
    expect(show.watchdog.trackerSilent.afterS).toBe(0.5);
    expect(show.watchdog.trackerSilent.fadeS).toBeLessThanOrEqual(3);
  });
});

describe('a show that is in order', () => {
  test('has its names as indices, its angles in radians, and what was left out filled in', () => {
    const show = showOf(
      changed('port: 9010', 'port: 9010\n    origin: [1, 2, 0]\n    turn: 90').replace(
        'universes: [1]',
        'universes: ["1-3", 2, 9], offset: 100',
      ),
    );
    expect(show.universes).toEqual([1, 2, 3, 9]);
    expect(show.outputs[0]?.universes).toEqual([
      { index: 0, onWire: 101 },
      { index: 1, onWire: 102 },
      { index: 2, onWire: 103 },
      { index: 3, onWire: 109 },
    ]);
    expect(show.bounds).toEqual({ min: { x: 0, y: 0, z: -0.5 }, max: { x: 6, y: 4, z: 3 } });
    // A quarter turn anticlockwise: x of the feed goes upstage.
    const [input] = show.inputs;
    expect(input?.rotation[0]).toBeCloseTo(0, 12);
    expect(input?.rotation[3]).toBeCloseTo(1, 12);
    expect(show.mappings).toMatchObject([
      { kind: 'zone', zone: 0, performers: [0], values: [{ fixture: 0, channel: 0, value: 100 }] },
      { kind: 'follow', performer: 0, heads: [1], offset: { x: 0, y: 0, z: 0 } },
    ]);
    expect(show.fixtures[1]?.head?.tiltRange[1]).toBeCloseTo((3 * Math.PI) / 4, 12);
  });

  test('a trim moves the ends of the tilt, so that what stands in the file is the true one', () => {
    const { fixtures } = showOf(
      changed('position: [3, 1, 5]', 'position: [3, 1, 5], trim: { tilt: 2 }'),
    );
    const head = fixtures[1];
    const tilt = head?.profile.channels[head.tiltChannel];
    expect([tilt?.from, tilt?.to]).toEqual([-133, 137]);
    expect(head?.head?.tiltRange[1]).toBeCloseTo((137 * Math.PI) / 180, 12);
    expect(head?.tiltTrim).toBeCloseTo((2 * Math.PI) / 180, 12);
    // The profile itself stays as it is for others.
    const [, other] = showOf(changed('position: [3, 1, 5]', 'position: [3, 1, 5]')).fixtures;
    expect(other?.profile.channels[other.tiltChannel]?.to).toBe(135);
    expect(other?.tiltTrim).toBe(0);
  });

  test('turns of an input about all three axes, and its scale', () => {
    const turned = 'port: 9010\n    turn: { x: 90, z: 90 }\n    scale: 1.1';
    const [input] = showOf(changed('port: 9010', turned)).inputs;
    expect(input?.scale).toBe(1.1);
    // About x first: z of the feed comes to -y; about z then: to x of the stage.
    expect(input?.rotation.map(value => Math.round(value) + 0)).toEqual([
      0, 0, 1, 1, 0, 0, 0, 1, 0,
    ]);
  });

  test('a universe lies where it stands in the list, not where its number says', () => {
    const show = showOf(
      changed('head, universe: 1', 'head, universe: 7').replace(
        'universes: [1]',
        'universes: [7, 1]',
      ),
    );
    expect(show.fixtures.map(({ firstSlot }) => firstSlot)).toEqual([0, 512 + 10]);
  });

  test('safe values left out are the base values, and those the defaults of the profile', () => {
    const show = showOf(
      changed(
        'moving-head, universe: 1',
        'moving-head, base: { Zoom: 30, Dimmer: 5 }, safe: { Dimmer: 0 }, universe: 1',
      ),
    );
    // Pan, Tilt, Dimmer, Zoom.
    expect(show.fixtures[1]?.base).toEqual([0, 0, 5, 30]);
    expect(show.fixtures[1]?.safe).toEqual([0, 0, 0, 30]);
  });

  test('an aim in a look is a pan and a tilt', () => {
    const show = showOf(changed('[3, 1, 5]', '[3, 1, 5], safe: { aim: [3, 3, 3] }'));
    const [pan, tilt] = show.fixtures[1]?.safe ?? [];
    // 2 m upstage and 2 m below: 45 degrees from straight down, with the front to the audience.
    expect(Math.abs(tilt ?? 0)).toBeCloseTo(45, 9);
    expect(Math.abs(Math.sin(((pan ?? 0) * Math.PI) / 180))).toBeCloseTo(0, 9);
  });

  test('anchors and aliases may be used', () => {
    const show = showOf(
      changed(
        'universe: 1, address: 1 }',
        'universe: 1, address: 1, base: &low { Dimmer: 7 }, safe: *low }',
      ),
    );
    expect(show.fixtures[0]?.safe).toEqual([7]);
  });

  test('a tracker may be a number or a word, and both name the same', () => {
    const show = showOf(changed('[1] }\nzones', '[1, left] }\nspares: [7, "08"]\nzones'));
    expect(show.performers[0]?.trackers.map(({ id }) => id)).toEqual(['1', 'left']);
    expect(show.spares.map(({ id }) => id)).toEqual(['7', '08']);
    expect(show.spares[0]?.fit).toEqual({ forwardM: 0, leftM: 0, upM: 0, noiseShare: 1 });
  });

  test('a tracker may say how it is worn, and how noisy it is', () => {
    const worn = '[{ id: 1, offset: { forward: -0.1, up: 0.4 }, noise: 0.03 }]';
    const show = showOf(changed('[1] }\nzones', `${worn} }\ntracking: { noise: 0.1 }\nzones`));
    expect(show.performers[0]?.trackers).toEqual([
      { id: '1', fit: { forwardM: -0.1, leftM: 0, upM: 0.4, noiseShare: 0.3 } },
    ]);
  });
});

describe('the safe look', () => {
  const show = showOf(
    changed('universe: 1, address: 1 }', 'universe: 1, address: 1, safe: { Dimmer: 20 } }'),
  );

  test('has each safe value in its slots and nothing elsewhere', () => {
    const levels = safeLook(show);
    expect(levels).toHaveLength(512);
    // 20 per cent of 255; pan and tilt at the middle of 16 bits, to the nearest: 32767.5 up; zoom 20 of 10..45.
    const expected = new Uint8Array(512);
    expected[0] = 51;
    expected.set([0x80, 0x00, 0x80, 0x00, 0, 0, Math.round((10 / 35) * 255)], 10);
    expect(levels).toEqual(expected);
  });

  test('the plan of the supervisor knows the same one', () => {
    const plan = fallbackPlan(show);
    expect(plan.safeLook).toEqual(safeLook(show));
    const levels = new Uint8Array(plan.levelCount);
    for (const { slots, safeRaw } of plan.fixtures.flatMap(fixture => fixture.channels)) {
      slots.forEach((slot, i) => {
        levels[slot] = Math.floor(safeRaw / 256 ** (slots.length - 1 - i)) % 256;
      });
    }
    expect(levels).toEqual(plan.safeLook);
  });

  test('and which fixtures move, and which are dark in it', () => {
    expect(fallbackPlan(show).fixtures.map(({ moves, safeIsDark }) => [moves, safeIsDark])).toEqual(
      [
        [false, false],
        [true, true],
      ],
    );
  });

  test('and how fast each fixture fades, and the rest of the watchdog', () => {
    const timed = showOf(
      changed('universe: 1, address: 1 }', 'universe: 1, address: 1, fade: 0.7 }').replace(
        'outputs:',
        'watchdog: { engineSilent: { fade: 3 }, rearm: 4, return: 5, move: 6 }\noutputs:',
      ),
    );
    const plan = fallbackPlan(timed);
    expect(plan.fixtures.map(({ fadeS }) => fadeS)).toEqual([0.7, undefined]);
    expect(plan).toMatchObject({ rearmS: 4, times: { fadeS: 3, returnS: 5, moveS: 6 } });
  });

  test('an engine may be silent for 2.5 frames of a slow output, where the show does not say for how long', () => {
    const afterS = (rate: string) =>
      showOf(changed('universes: [1] }', `universes: [1]${rate} }`)).watchdog.engineSilent.afterS;
    expect([afterS(''), afterS(', rate: 10'), afterS(', rate: 5'), afterS(', rate: 1')]).toEqual([
      0.25, 0.25, 0.5, 2.5,
    ]);
  });

  test('an inverted dimmer is dark at its maximum', () => {
    const inverted = showOf(
      changed(
        'fixtures:\n  glow: { profile: dimmer',
        'profiles: { back: { channels: [{ attribute: Dimmer, range: [100, 0] }] } }\nfixtures:\n  glow: { profile: back',
      ),
    );
    expect(fallbackPlan(inverted).fixtures[0]).toMatchObject({
      safeIsDark: true,
      channels: [{ safeRaw: 255, darkRaw: 255 }],
    });
  });
});

test('the minimal show of these tests is in order', () => {
  expect(parseShow(MINIMAL, 'a')).toMatchObject({ ok: true });
});

test('a profile says how wide and how bright its beam is, and how fast it moves', () => {
  const channels =
    '{ attribute: CTO, unit: kelvin, range: [3200, 6500], default: 5600, highlight: 6500 }';
  const profile = `profiles: { dimmer: { channels: [${channels}],
    optics: { beamAngle: 14, fieldAngle: 18, luminousFlux: 12000, beamRadius: 0.07 },
    motion: { pan: { speed: 180, acceleration: 400 }, zoom: { speed: 20 } } } }`;
  const text = MINIMAL.replace('fixtures:', `${profile}\nfixtures:`).replace(
    'set: { Dimmer: 100 }',
    'set: { CTO: 4000 }',
  );
  expect(showOf(text).fixtures[0]?.profile).toMatchObject({
    optics: { beamAngleDeg: 14, fieldAngleDeg: 18, luminousFluxLm: 12000, beamRadiusM: 0.07 },
    motion: { Pan: { speed: 180, acceleration: 400 }, Tilt: undefined, Zoom: { speed: 20 } },
    channels: [{ attribute: 'CTO', unit: 'kelvin', default: 5600, highlight: 6500 }],
  });
});
