import { readFileSync } from 'node:fs';

/** Of linux/sched.h. */
const REALTIME: Readonly<Record<string, string>> = {
  '1': 'SCHED_FIFO',
  '2': 'SCHED_RR',
  '6': 'SCHED_DEADLINE',
};
/** Place of `policy` in /proc/PID/stat behind the name of the program, from 0 (proc_pid_stat(5): field 41). */
const POLICY = 38;

/** Name of the real-time policy under which this process runs; undefined for the usual ones, and where nothing tells. */
export function realtimePolicy(): string | undefined {
  try {
    return policyIn(readFileSync('/proc/self/stat', 'latin1'));
  } catch {
    return undefined;
  }
}

/** @param stat /proc/PID/stat; the name of the program stands in brackets and may have any characters */
export function policyIn(stat: string): string | undefined {
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  return REALTIME[fields[POLICY] ?? ''];
}
