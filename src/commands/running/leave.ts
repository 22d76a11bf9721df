import { closeSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { isatty } from 'node:tty';

const STANDARD = [0, 1, 2] as const;
/** Which were terminals at the start: a closed one no longer counts as a terminal. */
const TERMINALS = STANDARD.filter(fd => isatty(fd));
/** How long a file that is being written is waited for, ms. */
const PATIENCE_MS = 200;
const LOOK_EVERY_MS = 10;

/** Ends the process, whatever its terminal, its disk or the reader of its log are doing. */
export async function leave(code: number): Promise<never> {
  for (let ms = 0; ms < PATIENCE_MS && isBusyWithFiles(); ms += LOOK_EVERY_MS) {
    await sleep(LOOK_EVERY_MS);
  }
  // Node restores the modes of its terminals at the end, and crashes where one is no longer there.
  for (const fd of TERMINALS) {
    if (isatty(fd)) continue;
    try {
      closeSync(fd);
    } catch {
      // It is closed already.
    }
  }
  // Node waits for the threads that read and write files: one that waits for a disk or a pipe would hold it for ever.
  if (isBusyWithFiles()) process.kill(process.pid, 'SIGKILL');
  process.exit(code);
}

function isBusyWithFiles(): boolean {
  return process.getActiveResourcesInfo().some(one => one.startsWith('FSReq'));
}
