import { writeHead } from './head.js';
import { SYNC, VECTOR_EXTENDED_SYNC, VECTOR_ROOT_EXTENDED } from './layout.js';
import { MAX_UNIVERSE, MIN_UNIVERSE } from './options.js';
import { nextSequence } from './sequence.js';

/** A synchronization packet (E1.31 section 6.3). The buffer is written in place: send it before the next change. */
export interface SacnSyncPacket {
  /** The UDP payload, 49 bytes. */
  readonly buffer: Buffer;
  /** Takes the next sequence number: once for each packet sent. */
  advanceSequence(): void;
}

/** Throws RangeError on a CID or universe out of range; the show file is checked before. */
export function createSyncPacket(cid: Uint8Array, universe: number): SacnSyncPacket {
  if (!Number.isInteger(universe) || universe < MIN_UNIVERSE || universe > MAX_UNIVERSE) {
    throw new RangeError(
      `synchronization address is a whole number from ${MIN_UNIVERSE} to ${MAX_UNIVERSE}, not ${universe}`,
    );
  }
  const buffer = Buffer.alloc(SYNC.end);
  writeHead(buffer, VECTOR_ROOT_EXTENDED, VECTOR_EXTENDED_SYNC, cid);
  buffer.writeUInt16BE(universe, SYNC.syncAddress);
  return {
    buffer,
    advanceSequence() {
      buffer[SYNC.sequence] = nextSequence(buffer[SYNC.sequence] ?? 0);
    },
  };
}
