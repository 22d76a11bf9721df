/**
 * The strong tables of S. C. Kleene, Introduction to Metamathematics (1952), par. 64, from memory: rows are the first
 * operand, columns the second, both in his order t, f, u.
 */
import { describe, expect, test } from 'vitest';
import {
  both,
  either,
  NO,
  not,
  type Truth,
  truthOf,
  UNKNOWN,
  YES,
} from '../../src/signals/kleene.js';

const LETTERS: Readonly<Record<string, Truth>> = { t: YES, f: NO, u: UNKNOWN };
const ORDER = ['t', 'f', 'u'] as const;
const letter = (one: string) => LETTERS[one] as Truth;

const TABLES = {
  and: { t: 't f u', f: 'f f f', u: 'u f u' },
  or: { t: 't t t', f: 't f u', u: 't u u' },
} as const;

describe("Kleene's strong tables", () => {
  test.each([
    ['and', both],
    ['or', either],
  ] as const)('%s', (name, of) => {
    for (const a of ORDER) {
      TABLES[name][a].split(' ').forEach((expected, column) => {
        expect(of(letter(a), letter(ORDER[column] as string))).toBe(letter(expected));
      });
    }
  });

  test('not', () => {
    expect(ORDER.map(a => not(letter(a)))).toEqual(['f', 't', 'u'].map(letter));
  });

  test('are what runs: surely and possibly so, each joined by the logic of two values', () => {
    const pairs = [
      [true, true],
      [false, false],
      [false, true],
    ] as const;
    for (const [surelyA, possiblyA] of pairs) {
      for (const [surelyB, possiblyB] of pairs) {
        const [a, b] = [truthOf(surelyA, possiblyA), truthOf(surelyB, possiblyB)];
        expect(truthOf(surelyA && surelyB, possiblyA && possiblyB)).toBe(both(a, b));
        expect(truthOf(surelyA || surelyB, possiblyA || possiblyB)).toBe(either(a, b));
      }
      expect(truthOf(!possiblyA, !surelyA)).toBe(not(truthOf(surelyA, possiblyA)));
    }
  });
});
