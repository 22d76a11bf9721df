import { writeHead } from './head.js';
import { OP_SYNC, SYNC } from './layout.js';

/**
 * An ArtSync: nodes put out what they have been sent since the last one. It is broadcast, and a node ignores one whose
 * sender is not that of its last ArtDmx (Art-Net 4, ArtSync).
 */
export function encodeSync(): Buffer {
  const buffer = Buffer.alloc(SYNC.end);
  writeHead(buffer, OP_SYNC);
  return buffer;
}
