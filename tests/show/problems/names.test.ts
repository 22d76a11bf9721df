import { describe, expect, test } from 'vitest';
import { findNamed, nameAdvice, nameMeant } from '../../../src/show/problems/names.js';

const ALL = [
  { name: 'nora', label: 'Nora Lind' },
  { name: 'ole', label: 'Ole' },
  { name: 'twin-1', label: 'The twin' },
  { name: 'twin-2', label: 'The twin' },
  { name: 'head-left' },
];

describe('who is meant by a word', () => {
  test.each([
    ['nora', 'nora'],
    ['NORA', 'nora'],
    ['Nora Lind', 'nora'],
    ['nora  lind', 'nora'],
    ['OLE', 'ole'],
    ['Head-Left', 'head-left'],
    // Two have that label: nobody can say.
    ['The twin', undefined],
    ['norah', undefined],
  ])('%s: %s', (word, name) => {
    expect(findNamed(word, ALL)?.name).toBe(name);
  });

  test.each([
    ['Nora Lind', ' Did you mean "nora"?'],
    ['Nora Lynd', ' Did you mean "nora"?'],
    ['norra', ' Did you mean "nora"?'],
    ['head-lefft', ' Did you mean "head-left"?'],
    ['somebody else', ''],
  ])('a slip, %s:%s', (word, hint) => {
    expect(nameMeant(word, ALL)).toBe(hint);
  });

  test('with all that there are', () => {
    expect(nameAdvice('xyz', ALL)).toBe(' The show has nora, ole, twin-1, twin-2 and head-left.');
  });
});
