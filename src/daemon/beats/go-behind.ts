import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { getPriority, setPriority } from 'node:os';

/** Steps of nice, which is a third of its share of a processor that both want (sched(7)). */
const BY = 5;
/** The least of all priorities (setpriority(2)). */
const LAST = 19;
/** Place of `session` in /proc/PID/stat behind the name of the program, from 0 (proc_pid_stat(5): field 6). */
const SESSION = 3;

/**
 * Puts this process behind the one that started it in the queue for the processor: all of its threads, as Linux keeps
 * a priority for each, and those that collect garbage and compile are there before any line of ours runs. Not further,
 * as on a busy machine it would never come to an end. Where the system doesn't allow it nothing changes.
 */
export function goBehind(): void {
  try {
    const nice = Math.min(LAST, getPriority() + BY);
    for (const thread of readdirSync('/proc/self/task')) setPriority(Number(thread), nice);
    // Where sessions are scheduled as groups, a nice value counts inside of one only (sched(7), autogroup).
    if (leadsSession()) writeFileSync('/proc/self/autogroup', String(nice));
  } catch {
    // It is asked for once; the light has a priority of its own.
  }
}

/** Else its group is that of the process that started it, and the light's. */
function leadsSession(): boolean {
  const stat = readFileSync('/proc/self/stat', 'latin1');
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  return Number(fields[SESSION]) === process.pid;
}
