import { formatProblem, type Problem } from '../../show/problems/problem.js';
import { EXIT } from './exit-codes.js';
import { complain, styled } from './terminal.js';

/** Prints what is wrong with a file. @returns the exit code for it */
export function refuse(problems: readonly Problem[]): number {
  complainOf(problems);
  return refusalCode(problems);
}

/** Prints each problem, and how many there are. */
export function complainOf(problems: readonly Problem[]): void {
  for (const problem of problems) complain(formatProblem(problem));
  const count = problems.length;
  complain(styled('red', `${count} ${count === 1 ? 'error' : 'errors'}.`, process.stderr));
}

/**
 * A missing file is bad usage; one with errors has failed the check. If the machine can't read it at the moment, the
 * file may be right: that is a fault, after which the service manager tries again.
 */
export function refusalCode(problems: readonly Problem[]): number {
  if (problems.some(({ code }) => code === 'file-unavailable')) return EXIT.fault;
  return problems[0]?.code === 'file-unreadable' ? EXIT.usage : EXIT.failed;
}
