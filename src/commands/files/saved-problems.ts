import type { Entry } from '../../daemon/log/log-entry.js';

/**
 * The problems of a saved show, one per line, for whoever edits it: the log has all of them in one line. A single
 * problem has been reported already.
 */
export function savedProblems(problems: readonly string[]): Entry[] {
  if (problems.length < 2) return [];
  return problems.map(problem => ({
    level: 'warn',
    text: problem.split('\n')[0] ?? '',
    data: { kind: 'show-problem', problem },
  }));
}
