import { readdirSync, readFileSync } from 'node:fs';

/** What is written where a process has too few, for people. */
export const ALLOW_MORE_FILES =
  'Allow it more and start it again: `ulimit -n 1024` in this shell, or LimitNOFILE=1024 in the unit of the service.';

/** Where it is the whole machine that has none. */
export const END_OTHERS =
  'End what holds so many open (`lsof` says which), or raise fs.file-max with sysctl, and ask again.';

/**
 * How many descriptors a process may have, of the text of its /proc/PID/limits (proc_pid_limits(5)): the soft limit,
 * which Node raises to the hard one at its start; undefined: any number, or it does not say.
 */
export function parseOpenFiles(limits: string): number | undefined {
  const found = /^Max open files\s+(\d+)\s/m.exec(limits);
  return found === null ? undefined : Number(found[1]);
}

/** Of this process; undefined: any number, or the system does not tell. */
export function descriptorLimit(): number | undefined {
  try {
    return parseOpenFiles(readFileSync('/proc/self/limits', 'latin1'));
  } catch {
    return undefined;
  }
}

/** Descriptors that this process can still take; undefined: any number, or the system does not tell. */
export function descriptorsLeft(): number | undefined {
  const limit = descriptorLimit();
  if (limit === undefined) return undefined;
  try {
    // One of them is the folder's own while it is read.
    return Math.max(0, limit - (readdirSync('/proc/self/fd').length - 1));
  } catch {
    return undefined;
  }
}
