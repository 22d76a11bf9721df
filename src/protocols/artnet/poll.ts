import { writeHead } from './head.js';
import { OP_POLL, POLL, POLL_REPLY_ON_CHANGE } from './layout.js';

/** An ArtPoll that asks nodes to answer now and whenever they change, without diagnostics. */
export function encodePoll(): Buffer {
  const buffer = Buffer.alloc(POLL.end);
  writeHead(buffer, OP_POLL);
  buffer[POLL.flags] = POLL_REPLY_ON_CHANGE;
  return buffer;
}
