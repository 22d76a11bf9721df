import { describe, expect, test } from 'vitest';
import {
  distanceOf,
  scaled,
  sumOf,
  type Xy,
  type Xyz,
  xyOf,
  xyzOf,
} from '../../../src/colour/chromaticity.js';
import { mixOf } from '../../../src/colour/mix.js';
import { srgbLights } from '../../../src/colour/srgb.js';
import { planckian } from '../../../src/colour/temperature.js';
import { encodeFixture } from '../../../src/fixtures/encode.js';
import { parseShow } from '../../../src/show/parse.js';
import { warningsOf } from '../../../src/show/warnings/warnings.js';
import { changed } from '../base.js';
import { showOf } from '../show-of.js';

/** Filters of which each takes away what one of sRGB's primaries has of a lamp of 6000 K. */
const GLASS = (() => {
  const open = xyzOf(planckian(6000), 100);
  const { red, green, blue } = srgbLights();
  const primaries = [red, green, blue].map(one => scaled(one, 1000));
  const { levels } = mixOf(primaries, xyOf(open), 100);
  const line = (attribute: string, at: number) => {
    const band = scaled(primaries[at] as Xyz, levels[at] as number);
    const through = { X: open.X - band.X, Y: open.Y - band.Y, Z: open.Z - band.Z };
    const { x, y } = xyOf(through);
    return `      - { attribute: ${attribute}, filter: { xy: [${x}, ${y}], luminance: ${through.Y} } }\n`;
  };
  return line('ColorSub_C', 0) + line('ColorSub_M', 1) + line('ColorSub_Y', 2);
})();

const CYAN = /ColorSub_C, filter: \{ xy: (\[[^\]]*\])/.exec(GLASS)?.[1] ?? '';

const PROFILES = `profiles:
  five:
    channels:
      - { attribute: Dimmer }
      - { attribute: ColorAdd_R, bits: 16, emitter: { xy: [0.69, 0.306], luminance: 20 } }
      - { attribute: ColorAdd_RY, bits: 16, emitter: { xy: [0.56, 0.435], luminance: 30 } }
      - { attribute: ColorAdd_G, bits: 16, emitter: { xy: [0.18, 0.7], luminance: 45 } }
      - { attribute: ColorAdd_B, bits: 16, emitter: { xy: [0.145, 0.045], luminance: 7 } }
      - { attribute: ColorAdd_W, bits: 16, emitter: { xy: [0.44, 0.405], luminance: 80 } }
  coarse:
    channels:
      - { attribute: Dimmer }
      - { attribute: ColorAdd_R, emitter: { xy: [0.69, 0.306], luminance: 20 } }
      - { attribute: ColorAdd_RY, emitter: { xy: [0.56, 0.435], luminance: 30 } }
      - { attribute: ColorAdd_G, emitter: { xy: [0.18, 0.7], luminance: 45 } }
      - { attribute: ColorAdd_B, emitter: { xy: [0.145, 0.045], luminance: 7 } }
      - { attribute: ColorAdd_W, emitter: { xy: [0.44, 0.405], luminance: 80 } }
  flags:
    optics: { colourTemperature: 7000 }
    channels: [{ attribute: Dimmer }, { attribute: ColorSub_C }, { attribute: ColorSub_M }, { attribute: ColorSub_Y }]
  glass:
    optics: { colourTemperature: 6000 }
    channels:
      - { attribute: Dimmer }
${GLASS}  wheel:
    channels:
      - { attribute: Dimmer }
      - attribute: Color1
        values:
          open: { levels: [0, 9], xy: [0.313, 0.329] }
          rose: { levels: [10, 19], xy: [0.45, 0.27], luminance: 20 }
          sea: { levels: [20, 29], xy: [0.19, 0.25], luminance: 25 }
  rgbw: { channels: [{ attribute: ColorAdd_R }, { attribute: ColorAdd_G }, { attribute: ColorAdd_B }, { attribute: ColorAdd_W }] }
  whites: { channels: [{ attribute: Dimmer }, { attribute: ColorAdd_WW }, { attribute: ColorAdd_CW }] }
`;

const PALETTE = `palettes:
  colours:
    amber: { kelvin: 2200 }
    noon: { daylight: 5600 }
    pink: { xy: [0.4, 0.28] }
    dusk: { xy: [0.25, 0.2], luminance: 4 }
    poster: { srgb: [255, 120, 40] }
    laser: { xy: [0.1, 0.75] }
`;

function show(fixture: string, mapping: string, more = ''): string {
  const text = changed('fixtures:\n', `${PROFILES}${PALETTE}fixtures:\n  lamp: ${fixture}\n`);
  return `${changed('mappings:\n', `mappings:\n  - ${mapping}\n`, text)}${more}`;
}

const AT = 'universe: 1, address: 101';

/** Physical values that the first mapping asks of the lamp, by attribute. */
function asked(text: string): Record<string, number> {
  const { mappings, fixtures } = showOf(text);
  const lamp = fixtures.findIndex(({ name }) => name === 'lamp');
  const values = (mappings[0]?.values ?? []).filter(({ fixture }) => fixture === lamp);
  return Object.fromEntries(
    values.map(({ channel, value }) => [
      fixtures[lamp]?.profile.channels[channel]?.attribute as string,
      value,
    ]),
  );
}

function problems(text: string): string[] {
  const result = parseShow(text, 'a.show.yaml');
  return result.ok ? [] : result.problems.map(({ code, message }) => `${code}: ${message}`);
}

function warnings(text: string): string[] {
  return warningsOf(showOf(text), () => true, undefined).flatMap(({ code, message }) =>
    code.startsWith('colour') ? [`${code}: ${message}`] : [],
  );
}

const mapping = (set: string) => `{ zone: stove, fixtures: [lamp], set: { ${set} } }`;

const FIVE: Readonly<Record<string, readonly [number, number, number]>> = {
  ColorAdd_R: [0.69, 0.306, 20],
  ColorAdd_RY: [0.56, 0.435, 30],
  ColorAdd_G: [0.18, 0.7, 45],
  ColorAdd_B: [0.145, 0.045, 7],
  ColorAdd_W: [0.44, 0.405, 80],
};

function lightOfFive(values: Readonly<Record<string, number>>) {
  return sumOf(
    Object.entries(FIVE).map(([attribute, [x, y, Y]]) =>
      scaled(xyzOf({ x, y }, Y), (values[attribute] ?? 0) / 100),
    ),
  );
}

describe('emitters', () => {
  test.each<[string, Xy]>([
    ['amber', planckian(2200)],
    ['pink', { x: 0.4, y: 0.28 }],
    ['dusk', { x: 0.25, y: 0.2 }],
  ])('%s is mixed by those of the profile', (name, wanted) => {
    const values = asked(show(`{ profile: five, ${AT} }`, mapping(`colour: ${name}, Dimmer: 80`)));
    expect(values.Dimmer).toBe(80);
    expect(distanceOf(xyOf(lightOfFive(values)), wanted)).toBeLessThan(1e-6);
  });

  test.each<[string, Xy]>([
    ['amber', planckian(2200)],
    ['dusk', { x: 0.25, y: 0.2 }],
  ])('%s by slots of 8 bits: within 0.003 and 2 per cent of what 16 bits give', (name, wanted) => {
    const [fine, coarse] = ['five', 'coarse'].map(profile =>
      lightOfFive(asked(show(`{ profile: ${profile}, ${AT} }`, mapping(`colour: ${name}`)))),
    );
    expect(distanceOf(xyOf(coarse as Xyz), wanted)).toBeLessThan(0.003);
    expect(Math.abs((coarse?.Y ?? 0) / (fine?.Y ?? 1) - 1)).toBeLessThan(0.02);
    // What is asked is what the slots can say.
    const values = asked(show(`{ profile: coarse, ${AT} }`, mapping(`colour: ${name}`)));
    for (const value of Object.values(values))
      expect((value * 255) / 100).toBeCloseTo(Math.round((value * 255) / 100), 5);
  });

  test('without a luminance it is as bright as can be, with one as bright as that', () => {
    const amber = asked(show(`{ profile: five, ${AT} }`, mapping('colour: amber')));
    expect(Math.max(...Object.values(amber))).toBe(100);
    const dusk = asked(show(`{ profile: five, ${AT} }`, mapping('colour: dusk')));
    expect(lightOfFive(dusk).Y).toBeCloseTo((4 / 100) * 182, 3);
  });

  test('behind a virtual dimmer as behind any', () => {
    const values = asked(show(`{ profile: rgbw, ${AT} }`, mapping('colour: pink, Dimmer: 50')));
    expect(values.Dimmer).toBe(50);
    expect(values.ColorAdd_W).toBe(0);
  });

  test('red, green and blue of which nothing is said are those of sRGB', () => {
    const values = asked(show(`{ profile: rgb, ${AT} }`, mapping('colour: pink')));
    const { red, green, blue } = srgbLights();
    const light = sumOf([
      scaled(red, values.ColorAdd_R ?? 0),
      scaled(green, values.ColorAdd_G ?? 0),
      scaled(blue, values.ColorAdd_B ?? 0),
    ]);
    // In steps of 8 bits.
    expect(distanceOf(xyOf(light), { x: 0.4, y: 0.28 })).toBeLessThan(0.003);
    expect(warnings(show(`{ profile: rgb, ${AT} }`, mapping('colour: pink')))).toEqual([
      'colour-assumed: profile "rgb" doesn\'t say what colours its emitters are: those of sRGB are assumed.',
    ]);
    expect(warnings(show(`{ profile: rgbw, ${AT} }`, mapping('colour: pink')))).toEqual([
      'colour-assumed: profile "rgbw" doesn\'t say what colours its emitters are: those of sRGB are assumed, and its ColorAdd_W stays dark in every colour.',
    ]);
  });

  test('the sRGB colour of a screen on the emitters of sRGB is its own linear values', () => {
    // IEC 61966-2-1: 120 is 0.1878, 40 is 0.0212.
    const values = asked(show(`{ profile: rgb, ${AT} }`, mapping('colour: poster')));
    expect(values.ColorAdd_R).toBeCloseTo(100, 3);
    // A step of 8 bits is 0.39 per cent.
    expect(Math.abs((values.ColorAdd_G ?? 0) - 18.78)).toBeLessThan(100 / 255);
    expect(Math.abs((values.ColorAdd_B ?? 0) - 2.12)).toBeLessThan(100 / 255);
  });
});

describe('filters', () => {
  test('white is all of them out, and a colour takes away what is not in it', () => {
    const values = asked(show(`{ profile: flags, ${AT} }`, mapping('colour: noon')));
    // 5600 K out of 7000 K: a little yellow.
    expect(values.ColorSub_C).toBeLessThan(1);
    expect(values.ColorSub_Y).toBeGreaterThan(5);
    const pink = asked(show(`{ profile: flags, ${AT} }`, mapping('colour: pink')));
    expect(pink.ColorSub_C).toBeCloseTo(0, 6);
    expect(pink.ColorSub_M).toBeGreaterThan(30);
  });

  test('what its maker states is what comes out with that filter alone', () => {
    const text = show(`{ profile: glass, ${AT} }`, mapping('colour: cyan')).replace(
      '    amber:',
      `    cyan: { xy: ${CYAN} }\n    amber:`,
    );
    const values = asked(text);
    expect(values.ColorSub_C).toBeCloseTo(100, 3);
    expect(values.ColorSub_M).toBeCloseTo(0, 3);
    expect(values.ColorSub_Y).toBeCloseTo(0, 3);
    expect(warnings(text)).toEqual([]);
  });
});

test('a wheel takes the nearest place, and check says how near', () => {
  const text = show(`{ profile: wheel, ${AT} }`, mapping('colour: pink'));
  const { fixtures, mappings } = showOf(text);
  const lamp = fixtures[0];
  const value = mappings[0]?.values[0];
  expect(lamp?.profile.channels[value?.channel ?? 0]?.values.get('rose')).toBe(value?.value);
  expect(warnings(text)).toEqual([
    'colour-off: colour "pink" on fixture "lamp": the nearest colour of its wheel is "rose", 0.049 away in u\'v\'.',
  ]);
});

test('bases, safe looks and cues have colours as well, to the slots', () => {
  const text = show(
    `{ profile: rgb, ${AT}, base: { colour: noon, Dimmer: 20 }, safe: { colour: poster, Dimmer: 30 } }`,
    '{ name: on, zone: stove, fixtures: [lamp], from: { colour: pink }, set: { colour: poster } }',
    'cues: { one: { mappings: [on], base: { lamp: { colour: pink, Dimmer: 0 } } } }\n',
  );
  const { fixtures, cues, mappings } = showOf(text);
  const lamp = fixtures[0];
  if (lamp === undefined) throw new Error('no lamp');
  const slots = new Uint8Array(4);
  encodeFixture(lamp.profile, lamp.safe, slots, 0);
  expect([...slots]).toEqual([77, 255, 48, 5]);
  expect(cues[0]?.base[0]).not.toEqual(lamp.base);
  const [on] = mappings;
  if (on?.kind !== 'signal') throw new Error('no signal mapping');
  expect(on.from).toHaveLength(3);
  expect(on.values).toHaveLength(3);
});

describe('what is wrong is said', () => {
  test('names', () => {
    expect(problems(show(`{ profile: rgb, ${AT} }`, mapping('colour: ambre')))).toEqual([
      'unknown-name: there is no colour "ambre". Did you mean "amber"?',
    ]);
    const without = show(`{ profile: rgb, ${AT} }`, mapping('colour: amber')).replace(PALETTE, '');
    expect(problems(without)).toEqual([
      'unknown-name: there is no colour "amber". palettes has no colours yet: palettes: { colours: { amber: { kelvin: 2200 } } }.',
    ]);
  });

  test('fixtures that have no colour, or of which nobody knows it', () => {
    expect(problems(show(`{ profile: dimmer, ${AT} }`, mapping('colour: amber')))).toEqual([
      'colour-impossible: colour "amber" can\'t be mixed on fixture "lamp": profile "dimmer" has no emitters, filters or wheel of colours.',
    ]);
    expect(problems(show(`{ profile: whites, ${AT} }`, mapping('colour: amber')))[0]).toContain(
      `profile "whites" doesn't say what colour its ColorAdd_WW and ColorAdd_CW are`,
    );
  });

  test('an attribute beside the colour that it is made of', () => {
    expect(
      problems(show(`{ profile: rgb, ${AT} }`, mapping('colour: amber, ColorAdd_R: 20'))),
    ).toEqual([
      'colour-impossible: ColorAdd_R of fixture "lamp" comes from colour "amber" and can\'t be set as well.',
    ]);
  });

  test.each([
    [
      '{ kelvin: 2200, xy: [0.3, 0.3] }',
      'colour-said: colour "amber" has xy and kelvin; give it one of xy, kelvin, daylight and srgb.',
    ],
    [
      '{ luminance: 20 }',
      'colour-said: colour "amber" has no definition; give it one of xy, kelvin, daylight and srgb.',
    ],
    [
      '{ daylight: 6500, duv: 0.01 }',
      'colour-said: duv of colour "amber" is a distance from the colour of a black body, so it needs kelvin.',
    ],
    [
      '{ srgb: [0, 0, 0] }',
      'colour-said: colour "amber" is black, and no lamp makes black light: use Dimmer for the amount of light.',
    ],
    [
      '{ xy: [0.7, 0.7] }',
      'bad-value: palettes.colours.amber.xy: x and y of a colour are 1 together at most.',
    ],
    [
      '{ kelvin: 320 }',
      'bad-value: palettes.colours.amber.kelvin should be at least 1000, and is 320.',
    ],
  ])('%s', (colour, message) => {
    const text = show(`{ profile: rgb, ${AT} }`, mapping('colour: amber'));
    expect(problems(text.replace('amber: { kelvin: 2200 }', `amber: ${colour}`))).toContain(
      message,
    );
  });

  test('out of reach, and too bright', () => {
    const text = show(`{ profile: five, ${AT} }`, mapping('colour: laser'));
    expect(warnings(text)).toEqual([
      expect.stringMatching(
        /^colour-off: colour "laser" on fixture "lamp": out of reach of its emitters; the nearest is 0\.0\d\d away in u'v'\.$/,
      ),
    ]);
    const bright = show(`{ profile: five, ${AT} }`, mapping('colour: dusk')).replace(
      'luminance: 4 }',
      'luminance: 40 }',
    );
    expect(warnings(bright)).toEqual([
      expect.stringMatching(
        /^colour-dim: colour "dusk" asks for a luminance of 40 %, but fixture "lamp" can give \d+(\.\d)? % in it\.$/,
      ),
    ]);
  });

  test.each([
    ['{ attribute: Dimmer, emitter: { xy: [0.3, 0.3], luminance: 1 } }', 'is not an emitter'],
    [
      '{ attribute: Zoom, range: [10, 40], filter: { xy: [0.3, 0.3], luminance: 1 } }',
      'is not a filter',
    ],
    ['{ attribute: Color1, values: { red: { levels: [0, 9], luminance: 10 } } }', 'but no xy'],
    [
      '{ attribute: Color1, values: { red: { levels: [0, 9], range: [0, 1] } } }',
      'a range without its unit',
    ],
    [
      '{ attribute: Iris, values: { red: { levels: [0, 9], xy: [0.3, 0.3] } } }',
      'is not a colour wheel',
    ],
  ])('%s', (channel, message) => {
    const text = show(`{ profile: rgb, ${AT} }`, mapping('Dimmer: 20'));
    const odd = text.replace('  five:\n', `  odd: { channels: [${channel}] }\n  five:\n`);
    expect(problems(odd)[0]).toContain(message);
  });
});
