import { expect, test } from 'vitest';
import { both, either, NO, not, type Truth, UNKNOWN, YES } from '../../src/signals/kleene.js';

// S. C. Kleene, Introduction to Metamathematics, 1952, par. 64, the strong tables: t, f, u are yes, no, unknown. From memory.
const VALUES = [YES, NO, UNKNOWN] as const;
const table = (of: (a: Truth, b: Truth) => Truth) => VALUES.map(a => VALUES.map(b => of(a, b)));

test('not', () => {
  expect(VALUES.map(not)).toEqual([NO, YES, UNKNOWN]);
});

test('and', () => {
  expect(table(both)).toEqual([
    [YES, NO, UNKNOWN],
    [NO, NO, NO],
    [UNKNOWN, NO, UNKNOWN],
  ]);
});

test('or', () => {
  expect(table(either)).toEqual([
    [YES, YES, YES],
    [YES, NO, UNKNOWN],
    [YES, UNKNOWN, UNKNOWN],
  ]);
});
