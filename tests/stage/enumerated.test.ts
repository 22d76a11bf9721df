import { expect, it } from 'vitest';
import { enumerated } from '../../src/stage/enumerated.js';

it('joins with "and", or with "or" after a negation', () => {
  expect(enumerated(['a'])).toBe('a');
  expect(enumerated(['a', 'b', 'c'])).toBe('a, b and c');
  expect(`nobody was in ${enumerated(['a', 'b'], undefined, 'or')}`).toBe('nobody was in a or b');
  expect(enumerated(['a', 'b', 'c'], 2, 'or')).toBe('a, b or 1 more');
});
