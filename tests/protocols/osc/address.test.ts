import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  compileTemplate,
  isPattern,
  matchPattern,
  matchTemplate,
} from '../../../src/protocols/osc/address.js';

const compiled = (text: string) => {
  const result = compileTemplate(text);
  if (!result.ok) throw new Error(JSON.stringify(result.errors));
  return result.template;
};

describe('templates', () => {
  it.each([
    ['/tracker/{tracker}/position', '/tracker/12/position', '12'],
    ['/tracker/{tracker}/position', '/tracker/Ines-L/position', 'Ines-L'],
    ['/tracker/{tracker}/position', '/tracker//position', undefined],
    ['/tracker/{tracker}/position', '/tracker/position', undefined],
    ['/tracker/{tracker}/position', '/tracker/1/2/position', undefined],
    ['/tracker/{tracker}/position', '/tracker/12/positions', undefined],
    ['/tracker/{tracker}/position', '/trackers/12/position', undefined],
    ['/{tracker}', '/gull', 'gull'],
    ['/{tracker}', '/', undefined],
    ['/{tracker}/xyz', '/gull/xyz', 'gull'],
    ['/pos/{tracker}', '/pos/gull', 'gull'],
    ['/pos', '/pos', ''],
    ['/pos', '/pos/1', undefined],
    ['/pos', '/po', undefined],
  ])('%s on %s: %s', (template, address, tracker) => {
    expect(matchTemplate(compiled(template), address)).toBe(tracker);
  });

  it.each([
    ['', ['no-leading-slash', 'empty-part'], [0, 0]],
    ['pos', ['no-leading-slash'], [0]],
    ['/', ['empty-part'], [1]],
    ['/a/', ['empty-part'], [3]],
    ['/a//b', ['empty-part'], [3]],
    ['/a b', ['forbidden-character'], [2]],
    ['/a#', ['forbidden-character'], [2]],
    ['/a*', ['forbidden-character'], [2]],
    ['/a,b', ['forbidden-character'], [2]],
    ['/a?', ['forbidden-character'], [2]],
    ['/a[1]', ['forbidden-character'], [2]],
    ['/{name}/a', ['forbidden-character'], [1]],
    ['/bühne', ['forbidden-character'], [2]],
    ['/a\n', ['forbidden-character'], [2]],
    ['/t{tracker}{tracker}', ['several-placeholders'], [11]],
    ['/t {tracker}', ['forbidden-character'], [2]],
    ['/{tracker}/{tracker}', ['several-placeholders'], [11]],
    [
      'a b//c*',
      ['no-leading-slash', 'forbidden-character', 'empty-part', 'forbidden-character'],
      [0, 1, 4, 6],
    ],
  ])('%j is refused, all errors at once', (text, reasons, places) => {
    const result = compileTemplate(text);
    expect(result.ok).toBe(false);
    if (result.ok) return;
    expect(result.errors.map(error => error.reason)).toEqual(reasons);
    expect(result.errors.map(error => error.at)).toEqual(places);
  });

  it('any text: an error or a template that matches its own addresses', () => {
    const name = fc.stringMatching(/^[a-zA-Z0-9._-]{1,8}$/);
    fc.assert(
      fc.property(
        fc.array(name, { minLength: 1, maxLength: 4 }),
        fc.nat(),
        name,
        (parts, at, id) => {
          const place = at % parts.length;
          const template = compiled(`/${parts.with(place, '{tracker}').join('/')}`);
          expect(matchTemplate(template, `/${parts.with(place, id).join('/')}`)).toBe(id);
        },
      ),
      { seed: 11 },
    );
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), text => {
        expect(typeof compileTemplate(text).ok).toBe('boolean');
      }),
      { seed: 11 },
    );
  });
});

describe('patterns', () => {
  it.each([
    // Malformed patterns and corners that OSC 1.0 leaves open.
    ['/a[b', '/ab', false],
    ['/a{b', '/ab', false],
    ['/[]', '/a', false],
    ['/[!]', '/a', true],
    ['/[-a]', '/-', true],
    ['/[z-a]', '/m', false],
    ['/{,a}b', '/b', true],
    ['/{a,ab}c', '/abc', true],
    ['/*{a,ba}', '/aba', true],
    ['/a*b*c', '/aXbYbZc', true],
    ['/a*b*c', '/aXbYbZ', false],
    ['/**', '/', true],
    ['//a', '/x/a', false],
    ['', '', true],
    ['/a', '/A', false],
  ])('%s on %s: %s', (pattern, address, matches) => {
    expect(matchPattern(pattern, address)).toBe(matches);
  });

  it('agrees with a regular expression on ?, * and sets', () => {
    const token = fc.constantFrom('a', 'b', '-', '?', '*', '[ab]', '[!a]', '[a-b]', '{a,bb,}', '/');
    const address = fc.stringMatching(/^[ab/-]{0,8}$/);
    fc.assert(
      fc.property(fc.array(token, { maxLength: 7 }), address, (tokens, rest) => {
        const pattern = `/${tokens.join('')}`;
        const source = tokens
          .map(t => {
            if (t === '?') return '[^/]';
            if (t === '*') return '[^/]*';
            if (t === '[!a]') return '[^a/]';
            if (t === '{a,bb,}') return '(?:a|bb|)';
            return t;
          })
          .join('');
        expect(matchPattern(pattern, `/${rest}`)).toBe(new RegExp(`^/${source}$`).test(`/${rest}`));
      }),
      { seed: 12, numRuns: 1000 },
    );
  });

  it('answers at once on a pattern that would make backtracking exponential', () => {
    const stars = `/${'*a'.repeat(700)}`;
    expect(matchPattern(stars, `/${'a'.repeat(40)}b`)).toBe(false);
    expect(matchPattern(`/${'{a,aa,}'.repeat(200)}b`, `/${'a'.repeat(60)}`)).toBe(false);
  });

  it('any text on any text: an answer', () => {
    const text = fc.stringMatching(/^[ab/*?[\]{},!-]{0,16}$/);
    fc.assert(
      fc.property(text, text, (pattern, address) => {
        expect(typeof matchPattern(pattern, address)).toBe('boolean');
      }),
      { seed: 13 },
    );
  });

  it('tells a pattern from an address', () => {
    for (const plain of ['/a/b', '/a-b/c!', '/', '']) expect(isPattern(plain)).toBe(false);
    for (const pattern of ['/*', '/a?', '/[a]', '/a]', '/{a', '/b}']) {
      expect(isPattern(pattern)).toBe(true);
    }
  });
});
