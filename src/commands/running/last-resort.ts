import { setTimeout as sleep } from 'node:timers/promises';
import { EXIT } from '../terminal/exit-codes.js';
import { leave } from './leave.js';

/** How long the last words may take, the log and the recording included, ms. */
const LAST_WORDS_MS = 500;

/**
 * For faults that nobody has foreseen, in a process that holds lights: an error that nobody catches ends the process
 * with a code that makes the service manager start it again at once. Nothing new is sent before the end.
 * @param lastWords stops all that sends, and logs the reason
 * @returns a function that removes the listener
 */
export function onLastResort(lastWords: (error: Error) => Promise<unknown>): () => void {
  let dying = false;
  const die = async (thrown: unknown) => {
    // Failures while it ends are of no interest.
    if (dying) return;
    dying = true;
    try {
      const error = thrown instanceof Error ? thrown : new Error(String(thrown));
      await Promise.race([lastWords(error), sleep(LAST_WORDS_MS)]);
    } catch {
      // Logged or not, it ends.
    }
    await leave(EXIT.fault);
  };
  process.removeAllListeners('uncaughtException');
  // A promise that nobody waits for comes here too, as it has no listener of its own.
  process.on('uncaughtException', die);
  return () => process.off('uncaughtException', die);
}
