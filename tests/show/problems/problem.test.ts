import { describe, expect, test } from 'vitest';
import { formatProblem, listed, meant } from '../../../src/show/problems/problem.js';

describe('what was probably meant', () => {
  const keys = ['zone', 'performers', 'fixtures', 'set', 'curve', 'fade', 'Dimmer'];
  test.each([
    ['zoen', 'zone'],
    ['zones', 'zone'],
    ['performer', 'performers'],
    ['fixutres', 'fixtures'],
    ['dimmer', 'Dimmer'],
    ['x', undefined],
    ['priority', undefined],
    ['', undefined],
  ])('%s: %s', (word, key) => {
    expect(meant(word, keys)).toBe(key);
  });

  test('is nothing where there is nothing to choose from', () => {
    expect(meant('zone', [])).toBeUndefined();
  });
});

describe('a list of words', () => {
  test.each([
    [[], 'none'],
    [['a'], '"a"'],
    [['a', 'b'], '"a" or "b"'],
    [['a', 'b', 'c'], '"a", "b" or "c"'],
    [['8', '16'], '8 or 16'],
  ])('%j', (words, text) => {
    expect(listed(words)).toBe(text);
  });

  test('ends somewhere', () => {
    expect(listed(['a', 'b', 'c', 'd'], 2)).toBe('"a", "b" and 2 more');
  });
});

test('on a terminal a problem is found by its file, line and column', () => {
  const problem = {
    code: 'bad-value',
    message: 'port should be at least 1, and is 0.',
    file: 'my.show.yaml',
    line: 6,
    column: 11,
    excerpt: '  6 |     port: 0\n    |           ^',
  } as const;
  expect(formatProblem(problem)).toBe(
    'my.show.yaml:6:11: port should be at least 1, and is 0. [bad-value]\n' +
      '  6 |     port: 0\n    |           ^',
  );
});
