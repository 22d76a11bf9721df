import { describe, expect, test } from 'vitest';
import { encodeFixture } from '../../../src/fixtures/encode.js';
import { patchText } from '../../../src/show/model/patched-slots.js';
import { safeLook } from '../../../src/show/model/safe-look.js';
import { parseShow } from '../../../src/show/parse.js';
import { warningsOf } from '../../../src/show/warnings/warnings.js';
import { changed } from '../base.js';
import { showOf } from '../show-of.js';

const BATTEN = `profiles:
  batten:
    channels:
      - { attribute: Dimmer, slots: [1] }
      - { attribute: Shutter1, slots: [2], values: { closed: [0, 9], open: [10, 19] }, default: open }
      - { attribute: ColorAdd_R, slots: [3], copies: [[6], [9], [12]] }
      - { attribute: ColorAdd_G, slots: [4], copies: [[7], [10], [13]] }
      - { attribute: ColorAdd_B, slots: [5], copies: [[8], [11], [14]] }
  blinder: { channels: [{ attribute: Dimmer, copies: [[2]] }] }
`;

function show(
  fixture: string,
  mapping = '{ zone: stove, fixtures: [glow], set: { Dimmer: 1 } }',
  more = '',
) {
  const text = changed(
    'fixtures:\n',
    `${BATTEN}fixtures:\n  bar: { universe: 1, address: 101, ${fixture} }\n`,
  );
  return `${changed('mappings:\n', `mappings:\n  - ${mapping}\n`, text)}${more}`;
}

const APART = 'profile: batten, cells: { from: [1, 2, 4], to: [4, 2, 4] }';

function problems(text: string): string[] {
  const result = parseShow(text, 'a.show.yaml');
  return result.ok
    ? []
    : result.problems.map(({ code, line, message }) => `${line} ${code}: ${message}`);
}

describe('a batten', () => {
  test('is one light where nothing is said', () => {
    const { fixtures } = showOf(show('profile: batten'));
    expect(fixtures.map(({ name }) => name)).toEqual(['bar', 'glow', 'head']);
  });

  test('is as many as it has cells where the show wants it, and a body that they share', () => {
    const { fixtures } = showOf(show(APART));
    expect(fixtures.map(({ name }) => name)).toEqual([
      'bar-1', 'bar-2', 'bar-3', 'bar-4', 'bar-body', 'glow', 'head',
    ]); // biome-ignore format: one list
    expect(fixtures.slice(0, 4).map(({ position }) => position?.x)).toEqual([1, 2, 3, 4]);
    expect(fixtures[1]?.profile.channels.map(({ attribute }) => attribute)).toEqual([
      'ColorAdd_R', 'ColorAdd_G', 'ColorAdd_B', 'Dimmer',
    ]); // biome-ignore format: one list
    expect(fixtures[4]?.profile.channels.map(({ attribute }) => attribute)).toEqual(['Shutter1']);
    expect(fixtures[1]).toMatchObject({ label: 'bar 2', inFile: 'bar' });
    expect(fixtures.map(plan => patchText({ universes: [1] }, plan))).toEqual([
      '1/103', '1/106', '1/109', '1/112', '1/102', '1/1', '1/11',
    ]); // biome-ignore format: one list
  });

  test('each cell has its own slots, and the Dimmer over all of them stands open', () => {
    const parsed = showOf(
      show(`${APART}, safe: { Dimmer: 0, ColorAdd_R: 100, ColorAdd_G: 0, ColorAdd_B: 0 }`),
    );
    const levels = safeLook(parsed).slice(100, 114);
    expect([...levels]).toEqual([255, 14, ...new Array(12).fill(0)]);
    const third = parsed.fixtures[2];
    if (third === undefined) throw new Error('no third cell');
    encodeFixture(third.profile, [100, 0, 50, 100], levels, 0);
    expect([...levels]).toEqual([255, 14, 0, 0, 0, 0, 0, 0, 255, 0, 127, 0, 0, 0]);
  });

  test('cells with a Dimmer of their own need no body', () => {
    const { fixtures } = showOf(show('profile: blinder, cells: {}, position: [1, 2, 3]'));
    expect(fixtures.map(({ name }) => name)).toEqual(['bar-1', 'bar-2', 'glow', 'head']);
    expect(fixtures[1]?.position).toEqual({ x: 1, y: 2, z: 3 });
  });
});

describe('its name is that of the group', () => {
  const targets = (text: string) => {
    const { mappings, fixtures } = showOf(text);
    return [...new Set((mappings[0]?.values ?? []).map(one => fixtures[one.fixture]?.name))];
  };

  test('in mappings, in order, beside a cell by itself', () => {
    const all = '{ zone: stove, fixtures: [bar], set: { Dimmer: 50 } }';
    expect(targets(show(APART, all))).toEqual(['bar-1', 'bar-2', 'bar-3', 'bar-4']);
    const one = '{ zone: stove, fixtures: [bar-3], set: { Dimmer: 50 } }';
    expect(targets(show(APART, one))).toEqual(['bar-3']);
  });

  test('in groups and in the looks of cues', () => {
    const text = show(
      APART,
      '{ name: on, zone: stove, fixtures: [back], set: { Dimmer: 50 } }',
      'groups: { back: [glow, bar] }\ncues: { one: { mappings: [on], base: { bar: { ColorAdd_R: 20 } } } }\n',
    );
    expect(targets(text)).toEqual(['glow', 'bar-1', 'bar-2', 'bar-3', 'bar-4']);
    const { cues } = showOf(text);
    expect(cues[0]?.base.slice(0, 4).map(([red]) => red)).toEqual([20, 20, 20, 20]);
  });

  test('a wave and a distance are another one at each cell', () => {
    const text = show(
      APART,
      '{ by: ripple, fixtures: [bar], set: { Dimmer: 50 } }',
      'signals: { ripple: { wave: { shape: sine, period: 2, spread: 1 } } }\n',
    );
    const [mapping] = showOf(text).mappings;
    if (mapping?.kind !== 'signal') throw new Error('no signal mapping');
    expect(new Set(mapping.by).size).toBe(4);
  });
});

describe('what is wrong is said of the fixture in the file', () => {
  test('no cells', () => {
    expect(problems(show('profile: dimmer, cells: {}'))).toEqual([
      expect.stringMatching(
        /^\d+ cells: fixture "bar" has no cells: profile "dimmer" has only one\.$/,
      ),
    ]);
  });

  test('a name that is taken', () => {
    const text = show('profile: blinder, cells: {}').replace(
      'glow: {',
      'bar-2: { profile: dimmer, universe: 1, address: 50 }\n  glow: {',
    );
    expect(problems(text)[0]).toContain(
      'a cell of fixture "bar" is called "bar-2", but something else',
    );
  });

  test('a group member called like what every JavaScript object has is an unknown name', () => {
    const text = `${show(APART)}groups: { others: [constructor, toString] }\n`;
    expect(problems(text)).toEqual([
      expect.stringContaining('there is no performer or fixture "constructor".'),
      expect.stringContaining('there is no performer or fixture "toString".'),
    ]);
  });

  test('a fault of its looks once, at its line', () => {
    const text = show(`${APART}, base: { Zoom: 20 }`);
    const line = 1 + text.split('\n').findIndex(one => one.includes('  bar:'));
    expect(problems(text)).toEqual([
      `${line} attribute-missing: fixture "bar-1" has no Zoom; its profile "batten cell 1" has "ColorAdd_R", "ColorAdd_G", "ColorAdd_B" or "Dimmer".`,
    ]);
  });

  test('an overlap of the patch', () => {
    const text = show(APART).replace('universe: 1, address: 1 }', 'universe: 1, address: 108 }');
    expect(problems(text)).toEqual([
      expect.stringContaining('fixture "glow" shares slot 108 of universe 1 with fixture "bar-2"'),
    ]);
  });

  test('warnings too, once', () => {
    const warnings = warningsOf(showOf(show(APART)), () => true, undefined);
    const ofBar = warnings.filter(({ path }) => path[1] === 'bar');
    expect(ofBar.map(({ code }) => code)).toEqual(['never-lit']);
  });
});
