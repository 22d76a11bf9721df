import { expect, it } from 'vitest';
import { refusedShow } from '../../../src/commands/files/show-file.js';
import {
  loadShowInChild,
  notTaken,
  startFaultOf,
} from '../../../src/commands/running/show-in-child.js';
import { formatProblem, type Problem } from '../../../src/show/problems/problem.js';

it('that is not read in time blames the machine, and no line of the file', async () => {
  // No process can start in a thousandth of a second.
  const loaded = await loadShowInChild('live.show.yaml', { heapMiB: 64, longestMs: 1 });
  if (loaded.ok) throw new Error('read after all');
  expect(loaded.problems.map(formatProblem)).toEqual([
    'live.show.yaml: the machine was too busy to read it within 0.001 s; save it again. [reading-failed]',
  ]);
  expect(notTaken(loaded)).toBe(
    'the show file was not read at the last reload: the machine was too busy to read it within 0.001 s; save it again',
  );
});

it('for which no process can be had says so, and neither blames the show nor the load of the machine', () => {
  const at = { file: 'a.show.yaml', line: 0, column: 0, excerpt: '' };
  const loaded = refusedShow([{ code: 'no-descriptor-free', message: 'no.', ...at }]);
  if (loaded.ok) throw new Error('not refused');
  expect(notTaken(loaded)).toBe(
    'the show file was not read at the last reload: too many files are open. Allow it more and start it again: `ulimit -n 1024` in this shell, or LimitNOFILE=1024 in the unit of the service',
  );
});

it.each([
  ['EMFILE', 'EMFILE: too many files are open in this process'],
  ['EAGAIN', 'Worker initialization failure: EAGAIN'],
])('a thread that can not begin for %s says so by that name', (code, text) => {
  // The words of Node 20 (lib/internal/errors.js, ERR_WORKER_INIT_FAILED).
  const error = Object.assign(new Error(`Worker initialization failure: ${code}`), {
    code: 'ERR_WORKER_INIT_FAILED',
  });
  expect(startFaultOf(error)).toEqual({ code, text });
});

it('that has errors was refused', () => {
  const at = { file: 'a.show.yaml', line: 3, column: 1, excerpt: '' };
  const problem: Problem = { code: 'yaml-syntax', message: 'this is not YAML.', ...at };
  const refused = refusedShow([problem]);
  if (refused.ok) throw new Error('not refused');
  expect(notTaken(refused)).toBe('the show file was refused at the last reload');
});
