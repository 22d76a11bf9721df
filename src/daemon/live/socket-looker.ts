import type { Socket } from 'node:net';
import type { Looker } from './feed.js';

/** More than this unread, and a line is left out: a snapshot of a large house, and its stage, are below it. */
const MOST_UNREAD_BYTES = 4 * 1024 * 1024;
/** One that has read nothing for so long is gone, ms. */
const STUCK_MS = 15_000;

/** Whoever looks over a socket; one that doesn't read is left behind, and then closed. */
export function socketLooker(socket: Socket, rateHz: number): Looker {
  let stuckMs: number | undefined;
  return {
    rateHz,
    write: line => {
      if (socket.destroyed) return;
      if (socket.writableLength <= MOST_UNREAD_BYTES) {
        stuckMs = undefined;
        socket.write(line);
        return;
      }
      stuckMs ??= performance.now();
      if (performance.now() - stuckMs > STUCK_MS) socket.destroy();
    },
  };
}
