import { expect, it } from 'vitest';
import { savedProblems } from '../../../src/commands/files/saved-problems.js';

it('several problems of a saved show have a line each; one alone is not told twice', () => {
  expect(savedProblems(['a.yaml: no such zone'])).toEqual([]);
  const problem = 'a.yaml: no such zone\n   3 | zone: x';
  expect(savedProblems([problem, 'b.yaml: no such head'])).toEqual([
    { level: 'warn', text: 'a.yaml: no such zone', data: { kind: 'show-problem', problem } },
    expect.objectContaining({ text: 'b.yaml: no such head' }),
  ]);
});
