import { setTimeout as sleep } from 'node:timers/promises';
import { EXIT } from './exit-codes.js';
import { leave } from './leave.js';

/** How long the last words may take, the log and the recording included, ms. */
const LAST_WORDS_MS = 500;

/**
 * For what nobody has foreseen, in a process that holds lights: whatever throws where nobody catches it ends the
 * process, with a code that has the service manager start it again at once, and nothing new is sent before.
 * @param lastWords stops all that sends, and says why
 * @returns takes it back
 */
export function onLastResort(lastWords: (error: Error) => Promise<unknown>): () => void {
  let dying = false;
  const die = async (thrown: unknown) => {
    // What fails while it dies is no news.
    if (dying) return;
    dying = true;
    try {
      const error = thrown instanceof Error ? thrown : new Error(String(thrown));
      await Promise.race([lastWords(error), sleep(LAST_WORDS_MS)]);
    } catch {
      // Said or not, it ends.
    }
    await leave(EXIT.fault);
  };
  process.removeAllListeners('uncaughtException');
  // Of a promise that nobody waits for too: without a listener of its own it comes here.
  process.on('uncaughtException', die);
  return () => process.off('uncaughtException', die);
}
