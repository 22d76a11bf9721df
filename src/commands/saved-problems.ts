import type { Entry } from '../daemon/log/log-entry.js';

/**
 * What is wrong with a show that was saved, a line each: the log has all of it in one line, and whoever edits wants
 * one a line. A single problem has been told by then.
 */
export function savedProblems(problems: readonly string[]): Entry[] {
  if (problems.length < 2) return [];
  return problems.map(problem => ({
    level: 'warn',
    text: problem.split('\n')[0] ?? '',
    data: { kind: 'show-problem', problem },
  }));
}
