import { closeSync } from 'node:fs';
import { isatty } from 'node:tty';

const STANDARD = [0, 1, 2] as const;
/** As it was started: a terminal that is closed is none any more. */
const TERMINALS = STANDARD.filter(fd => isatty(fd));

/** Ends the process, whatever its terminal, its disk or the reader of its log are doing. */
export function leaveNow(code: number): never {
  // Node restores the modes of its terminals at the end, and crashes where one is no longer there.
  for (const fd of TERMINALS) {
    if (isatty(fd)) continue;
    try {
      closeSync(fd);
    } catch {
      // It is closed already.
    }
  }
  // The end waits for the threads that read and write files: one that waits for a disk or a pipe keeps it for ever.
  if (process.getActiveResourcesInfo().some(one => one.startsWith('FSReq'))) {
    process.kill(process.pid, 'SIGKILL');
  }
  process.exit(code);
}
