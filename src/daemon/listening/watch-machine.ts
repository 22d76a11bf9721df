import { execFile } from 'node:child_process';
import { statfs } from 'node:fs/promises';
import { availableParallelism, freemem, loadavg } from 'node:os';
import type { MachineFacts } from '../../readiness/machine-checks.js';
import { monotonicS } from '../machine/clock.js';

/** A system that does not answer by then does not tell. */
const PATIENCE_MS = 2000;

/** Watches the clocks from now on. @returns what the machine shows, when asked */
export function watchMachine(folder: string): () => Promise<MachineFacts> {
  const beganS = monotonicS();
  const offsetS = Date.now() / 1e3 - beganS;
  return async () => {
    const nowS = monotonicS();
    return {
      node: process.versions.node,
      folder,
      freeBytes: await freeIn(folder),
      synchronised: await isSynchronised(),
      clockGainS: Date.now() / 1e3 - monotonicS() - offsetS,
      watchedS: nowS - beganS,
      load: loadavg()[0] ?? 0,
      cores: availableParallelism(),
      freeMemoryBytes: freemem(),
    };
  };
}

async function freeIn(folder: string): Promise<number | undefined> {
  try {
    const { bavail, bsize } = await statfs(folder);
    return bavail * bsize;
  } catch {
    return undefined;
  }
}

/** systemd knows whether the kernel's clock is disciplined by a time server, whichever program does it. */
function isSynchronised(): Promise<boolean | undefined> {
  return new Promise(resolve => {
    execFile(
      'timedatectl',
      ['show', '--property=NTPSynchronized', '--value'],
      { timeout: PATIENCE_MS },
      (error, stdout) => {
        const answer = stdout.trim();
        resolve(error === null && /^(yes|no)$/.test(answer) ? answer === 'yes' : undefined);
      },
    );
  });
}
