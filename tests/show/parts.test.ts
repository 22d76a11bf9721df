import { readdirSync, readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { parseProfile, parseShow } from '../../src/show/parse.js';
import { bundleShow, type Part, partPaths } from '../../src/show/parts.js';
import { profileJsonSchema } from '../../src/show/schema/json-schema.js';
import { changed } from './base.js';

const FILE = 'rigs/wash.profile.yaml';
const SHOW = changed('profile: dimmer', 'profile: wash').replace(
  'fixtures:\n  glow',
  `profiles: { wash: { file: ${FILE} } }\nfixtures:\n  glow`,
);
const WASH = `# A wash.
profile: 1
channels:
  - { attribute: Dimmer }
  - { attribute: ColorAdd_R, default: 100 }
`;
const partsOf = (text: string) => new Map<string, Part>([[FILE, { file: `/shows/${FILE}`, text }]]);

function problemsOf(show: string, part: string) {
  const result = parseShow(show, 'a.show.yaml', partsOf(part));
  return result.ok ? [] : result.problems.map(p => [p.file, p.line, p.column, p.code, p.message]);
}

describe('a profile in a file of its own', () => {
  test('is found, and stands where it would stand in the show', () => {
    expect(partPaths(SHOW)).toEqual([FILE]);
    // YAML 1.2.2, 5.7: \u and four digits in a double-quoted scalar.
    for (const key of ['"file"', "'file'", '"\\u0066ile"']) {
      expect(partPaths(SHOW.replace('{ file:', `{ ${key}:`))).toEqual([FILE]);
    }
    const apart = parseShow(SHOW, 'a.show.yaml', partsOf(WASH));
    const inside = parseShow(
      SHOW.replace(
        `{ file: ${FILE} }`,
        '{ channels: [{ attribute: Dimmer }, { attribute: ColorAdd_R, default: 100 }] }',
      ),
      'a.show.yaml',
    );
    expect(apart.ok).toBe(true);
    expect(apart).toEqual(inside);
  });

  test('and the show can be made one text, for the engine and for recordings', () => {
    const whole = bundleShow(SHOW, partsOf(WASH));
    expect(partPaths(whole)).toEqual([]);
    expect(parseShow(whole, 'a')).toEqual(parseShow(SHOW, 'a', partsOf(WASH)));
    const without = changed('name: One lamp', 'name: a file');
    expect(bundleShow(without, new Map())).toBe(without);
  });

  test('its faults are said with its own name, line and column, beside those of the show', () => {
    const broken = WASH.replace('default: 100', 'default: 300').replace(
      'Dimmer }',
      'Dimmer, bit: 8 }',
    );
    const show = SHOW.replace('port: 9010', 'port: 0');
    expect(
      problemsOf(show, broken).map(([file, line, column, code]) => [file, line, column, code]),
    ).toEqual([
      ['a.show.yaml', 6, 11, 'bad-value'],
      [`/shows/${FILE}`, 4, 26, 'unknown-key'],
      [`/shows/${FILE}`, 5, 5, 'profile-channels'],
    ]);
    expect(problemsOf(SHOW, WASH.replace('default: 100', 'default: 300'))).toEqual([
      [
        `/shows/${FILE}`,
        5,
        5,
        'profile-channels',
        'profile "wash": ColorAdd_R: default 300 is outside of 0 to 100 per cent.',
      ],
    ]);
  });

  test.each([
    ['that is no YAML', 'profile: [1\n', 'yaml-syntax'],
    ['that is a list', '- 1\n', 'wrong-type'],
    ['that is empty', '', 'wrong-type'],
    ['that does not say that it is one', WASH.replace('profile: 1\n', ''), 'missing-key'],
    ['of another version', WASH.replace('profile: 1', 'profile: 2'), 'bad-value'],
    ['that leads to another', 'profile: 1\nfile: other.yaml\n', 'unknown-key'],
  ])('one %s is one fault, and the fixtures that use it none', (_, text, code) => {
    expect(problemsOf(SHOW, text).map(([file, , , found]) => [file, found])).toEqual([
      [`/shows/${FILE}`, code],
    ]);
  });

  test('one that can not be read is a fault of the line that names it', () => {
    const parts = new Map([[FILE, { file: `/shows/${FILE}`, fault: 'there is no such file' }]]);
    const result = parseShow(SHOW.replace('radius: 0.8', 'radius: 8'), 'a.show.yaml', parts);
    expect(result.ok ? [] : result.problems.map(({ line, message }) => [line, message])).toEqual([
      [11, 'zone "stove" reaches outside the stage, which is x 0 to 6 and y 0 to 4 metres.'],
      [12, `profile file "${FILE}" can't be read: there is no such file.`],
    ]);
  });

  test('a key beside it is told, with where it belongs, and nothing of those who use it', () => {
    const beside = SHOW.replace(`{ file: ${FILE} }`, `{ file: ${FILE}, hazard: haze, label: W }`);
    expect(problemsOf(beside, WASH).map(([file, , , ...told]) => [file, ...told])).toEqual([
      [
        'a.show.yaml',
        'unknown-key',
        `"hazard" can't be used together with "file": it belongs in "${FILE}", or to the fixture.`,
      ],
      [
        'a.show.yaml',
        'unknown-key',
        `"label" can't be used together with "file": it belongs in "${FILE}".`,
      ],
    ]);
  });

  test('two names for one file: its faults are said once', () => {
    const twice = SHOW.replace('profiles: { wash', `profiles: { other: { file: ${FILE} }, wash`);
    expect(problemsOf(twice, WASH.replace('Dimmer', 'Dimer'))).toHaveLength(1);
    expect(
      problemsOf(twice, 'profile: 1\nchannels: [{ attribute: Dimmer, bits: 9 }]\n'),
    ).toHaveLength(1);
    expect(problemsOf(twice, 'profile: 7\n')).toHaveLength(1);
  });
});

describe('a fixture of several modes', () => {
  const TWO = `profile: 1
modes:
  basic: { channels: [{ attribute: Dimmer }] }
  fine: { channels: [{ attribute: Dimmer, bits: 16, slots: [1, 5] }] }
`;
  test('is patched in the mode that is set on it', () => {
    const show = (mode: string) =>
      parseShow(SHOW.replace('profile: wash', `profile: wash, mode: ${mode}`), 'a', partsOf(TWO));
    expect(show('basic')).toMatchObject({
      ok: true,
      show: { fixtures: [{ profile: { footprint: 1 } }, {}] },
    });
    expect(show('fine')).toMatchObject({
      ok: true,
      show: { fixtures: [{ profile: { name: 'wash/fine', footprint: 5 } }, {}] },
    });
  });

  test('whose only mode need not be named', () => {
    const one = TWO.replace(/ {2}basic.*\n/, '');
    expect(parseShow(SHOW, 'a', partsOf(one))).toMatchObject({ ok: true });
  });
});

const names = readdirSync(new URL('../../config/profiles/', import.meta.url));
const textOf = (name: string) =>
  readFileSync(new URL(`../../config/profiles/${name}`, import.meta.url), 'utf8');

describe('the library in config/profiles', () => {
  const validate = new Ajv2020({
    strict: true,
    strictTuples: false,
    validateFormats: false,
  }).compile(profileJsonSchema());

  test('has what a house needs', () => {
    expect(names).toEqual(
      expect.arrayContaining(
        ['dimmer', 'rgb', 'rgbw', 'moving-head-spot', 'moving-head-wash', 'haze'].map(
          name => `${name}.profile.yaml`,
        ),
      ),
    );
  });

  test.each(names)('%s is in order, for us and for editors', name => {
    expect(parseProfile(textOf(name), name)).toMatchObject({ ok: true });
    validate(parse(textOf(name)));
    expect(validate.errors).toBeNull();
  });

  test('editors find a slip in one', () => {
    expect(validate(parse(WASH.replace('channels', 'chanels')))).toBe(false);
    expect(validate(parse(WASH.replace('profile: 1', 'profile: 2')))).toBe(false);
  });
});
