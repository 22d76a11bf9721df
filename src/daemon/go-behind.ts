import { readdirSync } from 'node:fs';
import { getPriority, setPriority } from 'node:os';

/** Steps of nice, which is a third of its share of a processor that both want (sched(7)). */
const BY = 5;
/** The least of all priorities (setpriority(2)). */
const LAST = 19;

/**
 * Puts this process behind the one that started it in the queue for the processor: all of its threads, as Linux keeps
 * a priority for each, and those that collect garbage and compile are there before any line of ours runs. Not further,
 * as on a busy machine it would never come to an end. Where the system doesn't allow it nothing changes.
 */
export function goBehind(): void {
  try {
    const nice = Math.min(LAST, getPriority() + BY);
    for (const thread of readdirSync('/proc/self/task')) setPriority(Number(thread), nice);
  } catch {
    // It is asked for once; the light has a priority of its own.
  }
}
