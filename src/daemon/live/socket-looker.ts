import type { Socket } from 'node:net';
import type { Looker } from './feed.js';

/** More than this unread, and a line is left out: a snapshot of a large house, and its stage, are below it. */
export const MOST_UNREAD_BYTES = 4 * 1024 * 1024;
/** One that has read nothing for so long is gone, ms. */
const STUCK_MS = 15_000;

export interface SocketLooker extends Looker {
  /** For how long it has read nothing of what waits for it, ms. */
  readonly idleMs: number;
}

/** Whoever looks over a socket; one that doesn't read is left behind, and then closed. @param onStuck told when that is so */
export function socketLooker(
  socket: Pick<Socket, 'write' | 'destroyed' | 'writableLength'>,
  rateHz: number,
  onStuck: () => void,
  nowMs = () => performance.now(),
): SocketLooker {
  // In characters, as Node counts what waits.
  let given = 0;
  let taken = 0;
  let tookMs = nowMs();
  const idleMs = () => {
    const unread = socket.writableLength;
    const takenNow = given - unread;
    if (unread === 0 || takenNow > taken) tookMs = nowMs();
    taken = takenNow;
    return nowMs() - tookMs;
  };
  return {
    rateHz,
    get idleMs() {
      return idleMs();
    },
    write: line => {
      if (socket.destroyed) return;
      if (idleMs() > STUCK_MS) {
        onStuck();
        return;
      }
      if (socket.writableLength > MOST_UNREAD_BYTES) return;
      given += line.length;
      socket.write(line);
    },
  };
}
