import fc from 'fast-check';
import { expect, test } from 'vitest';
import { parse, stringify } from 'yaml';
import { createEngine } from '../../src/engine/engine.js';
import { step } from '../../src/engine/step.js';
import { viewOf } from '../../src/engine/view.js';
import { parseShow, type ShowResult } from '../../src/show/parse.js';
import { PROBLEM_CODES } from '../../src/show/problems/codes.js';
import { configShow, MINIMAL } from './base.js';

const SEED = 20260121;
/** The long one is read forty times. */
const SHOWS = [...Array.from({ length: 9 }, () => MINIMAL), configShow('salt-lantern')];

/** Never throws; refuses with a place in the text; and what it accepts runs. */
function check(text: string): ShowResult {
  const result = parseShow(text, 'a.show.yaml');
  if (result.ok) {
    const engine = createEngine(result.show);
    step(engine, { datagrams: [], unixOffsetS: 0 }, 1);
    step(engine, { datagrams: [], unixOffsetS: 0 }, 1.025);
    for (const { values } of viewOf(engine).fixtures) {
      expect(values.every(Number.isFinite)).toBe(true);
    }
    return result;
  }
  const lines = text.split('\n');
  expect(result.problems.length).toBeGreaterThan(0);
  let last = 0;
  for (const { line, column, message, code } of result.problems) {
    expect(line).toBeGreaterThanOrEqual(Math.max(1, last));
    expect(line).toBeLessThanOrEqual(lines.length);
    expect(column).toBeGreaterThanOrEqual(1);
    expect(column).toBeLessThanOrEqual((lines[line - 1] ?? '').length + 1);
    expect(message).toMatch(/[.?]$/);
    expect(message).not.toMatch(/undefined|\[object|^(?!this is not YAML).*(Expected|Invalid)/);
    expect(PROBLEM_CODES).toHaveProperty(code);
    last = line;
  }
  return result;
}

const SCRAPS = [
  '', ' ', '\n', '\t', ':', '- ', '[', ']', '{', '}', '#', '"', "'", '&a ', '*a', '!', '|', '>', '? ', '---\n',
  '~', '0', '-1', '1e999', '.nan', '.inf', '99999999999999999999', '0x10', 'true', 'zone', 'follow', '\u0000',
  '\uFEFF', '\u2028', '\ud800', 'constructor', '__proto__', 'toString',
] as const; // biome-ignore format: three rows of scraps

test('mutated texts', () => {
  const mutation = fc.tuple(
    fc.nat(),
    fc.integer({ min: 0, max: 12 }),
    fc.oneof(fc.constantFrom(...SCRAPS), fc.string({ maxLength: 4 })),
  );
  let refused = 0;
  fc.assert(
    fc.property(
      fc.constantFrom(...SHOWS),
      fc.array(mutation, { minLength: 1, maxLength: 5 }),
      (show, mutations) => {
        let text = show;
        for (const [place, length, scrap] of mutations) {
          const at = place % (text.length + 1);
          text = text.slice(0, at) + scrap + text.slice(at + length);
        }
        if (!check(text).ok) refused += 1;
      },
    ),
    { seed: SEED, numRuns: 200 },
  );
  expect(refused).toBeGreaterThan(100);
});

test('values of every kind in every place', () => {
  const strange = fc.oneof(
    fc.constantFrom(null, true, '', 'any', 'ines', 0, -1, 1.5, 1e308, -1e308, 512, 63999, [], {}, [
      [],
    ]),
    fc.constantFrom(
      [0, 0],
      [1, 0],
      [0, 1e308],
      [0, 0, 0],
      { x: 1 },
      { circle: 1 },
      { aim: [0, 0, 0] },
    ),
    fc.jsonValue({ maxDepth: 2 }),
  );
  let accepted = 0;
  fc.assert(
    fc.property(
      fc.constantFrom(...SHOWS),
      fc.array(fc.tuple(fc.nat(), strange, fc.constantFrom(undefined, 0.5, 1, 2, 3)), {
        minLength: 1,
        maxLength: 3,
      }),
      (show, changes) => {
        const file: unknown = parse(show);
        for (const [place, value, number] of changes) {
          const places = placesOf(file);
          const [holder, key] = places[place % places.length] ?? [];
          if (holder === undefined || key === undefined) continue;
          // Mostly another number for a number, or nothing would ever be accepted.
          holder[key] = typeof holder[key] === 'number' ? (number ?? value) : value;
        }
        if (check(stringify(file)).ok) accepted += 1;
      },
    ),
    { seed: SEED, numRuns: 200 },
  );
  expect(accepted).toBeGreaterThan(20);
});

test.each([
  ['brackets', '['.repeat(100_000)],
  ['blocks', '{a: '.repeat(50_000)],
  ['dashes', '- '.repeat(50_000)],
  ['closed brackets', `${'['.repeat(3000)}${']'.repeat(3000)}`],
  ['a list in itself', 'a: &a [*a]\nb: *a\n'],
  ['a block in itself', 'stage: &a { x: *a, y: *a }\n'],
  ['a key that is a list', '? [a, b]\n: 1\n'],
  ['noughts', '\0'.repeat(100)],
])('deep or strange: %s', (_, text) => {
  expect(check(text).ok).toBe(false);
});

type Holder = Record<string | number, unknown>;

/** Every place in a value at which another can be put. */
function placesOf(value: unknown): [Holder, string | number][] {
  if (typeof value !== 'object' || value === null) return [];
  const holder = value as Holder;
  return Object.keys(holder).flatMap(key => [
    [holder, key] as [Holder, string],
    ...placesOf(holder[key]),
  ]);
}
