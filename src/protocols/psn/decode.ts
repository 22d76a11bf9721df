import {
  CHUNK_HEAD_BYTES,
  DATA_PACKET,
  DATA_TRACKERS,
  FIELD,
  INFO_PACKET,
  INFO_TRACKERS,
  LENGTH_MASK,
  PACKET_HEADER,
  PACKET_HEADER_BYTES,
  PSN_MAX_BYTES,
  PSN_VERSION,
  STATUS_BYTES,
  SYSTEM_NAME,
  TIMESTAMP_BYTES,
  TRACKER_NAME,
  VECTOR_BYTES,
} from './layout.js';

export const PSN_REJECT_REASONS = [
  /** Neither a data nor an info packet of PosiStageNet 2. */
  'not-psn',
  /** Another major version. */
  'psn-version',
  /** No header, a chunk that goes beyond the one around it, or one too short for what it holds. */
  'psn-structure',
] as const;
export type PsnRejectReason = (typeof PSN_REJECT_REASONS)[number];

/** A tracker of a data packet as it stands there. Fields that it does not have keep what they were. */
export interface PsnTracker {
  id: number;
  hasPosition: boolean;
  /** Metres, on the axes of the tracking system. */
  x: number;
  y: number;
  z: number;
  hasValidity: boolean;
  validity: number;
  hasTimestamp: boolean;
  /** Microseconds on the server's clock. */
  timestampUs: number;
}

export interface PsnVisitor {
  /** For each tracker of a data packet, in order; the object is the same each time. */
  tracker(tracker: Readonly<PsnTracker>): void;
  /** A packet, or the rest of it, was dropped. Trackers before the fault have been delivered. */
  rejected(reason: PsnRejectReason | 'too-long'): void;
  /** Of an info packet; who wants no names pays for none. */
  systemName?(name: string): void;
  trackerName?(id: number, name: string): void;
}

const scratch: PsnTracker = {
  id: 0,
  hasPosition: false,
  x: 0,
  y: 0,
  z: 0,
  hasValidity: false,
  validity: 0,
  hasTimestamp: false,
  timestampUs: 0,
};

/**
 * Decodes a datagram of PosiStageNet 2. Never throws (unless the visitor does), allocates nothing for a data packet, and
 * takes time in proportion to its length, whatever it holds: each chunk is at least 4 bytes and is looked at once.
 */
export function decodePsn(
  bytes: Buffer,
  visitor: PsnVisitor,
  maxDatagramBytes: number = PSN_MAX_BYTES,
): void {
  if (bytes.length > maxDatagramBytes) {
    visitor.rejected('too-long');
    return;
  }
  const kind = bytes.length < CHUNK_HEAD_BYTES ? -1 : bytes.readUInt16LE(0);
  if (kind !== DATA_PACKET && kind !== INFO_PACKET) {
    visitor.rejected('not-psn');
    return;
  }
  const end = chunkEnd(bytes, 0, bytes.length);
  const version = end < 0 ? -1 : majorVersion(bytes, end);
  if (version < 0) visitor.rejected('psn-structure');
  else if (version !== PSN_VERSION[0]) visitor.rejected('psn-version');
  else if (!walk(bytes, end, kind, visitor)) visitor.rejected('psn-structure');
}

/** Where the data of the chunk at `at` ends; -1 where it goes beyond `end`. */
function chunkEnd(bytes: Buffer, at: number, end: number): number {
  if (at + CHUNK_HEAD_BYTES > end) return -1;
  const dataEnd = at + CHUNK_HEAD_BYTES + (bytes.readUInt16LE(at + 2) & LENGTH_MASK);
  return dataEnd > end ? -1 : dataEnd;
}

/** -1 where there is no header. */
function majorVersion(bytes: Buffer, end: number): number {
  for (let at = CHUNK_HEAD_BYTES; at < end; ) {
    const next = chunkEnd(bytes, at, end);
    if (next < 0) return -1;
    const from = at + CHUNK_HEAD_BYTES;
    if (bytes.readUInt16LE(at) === PACKET_HEADER) {
      return next - from < PACKET_HEADER_BYTES ? -1 : (bytes[from + 8] as number);
    }
    at = next;
  }
  return -1;
}

/** @returns whether all chunks were whole */
function walk(bytes: Buffer, end: number, kind: number, visitor: PsnVisitor): boolean {
  for (let at = CHUNK_HEAD_BYTES; at < end; ) {
    const next = chunkEnd(bytes, at, end);
    if (next < 0) return false;
    const id = bytes.readUInt16LE(at);
    const from = at + CHUNK_HEAD_BYTES;
    if (kind === DATA_PACKET) {
      if (id === DATA_TRACKERS && !walkData(bytes, from, next, visitor)) return false;
    } else if (id === SYSTEM_NAME) visitor.systemName?.(textOf(bytes, from, next));
    else if (id === INFO_TRACKERS && !walkInfo(bytes, from, next, visitor)) return false;
    at = next;
  }
  return true;
}

function walkData(bytes: Buffer, start: number, end: number, visitor: PsnVisitor): boolean {
  for (let at = start; at < end; ) {
    const next = chunkEnd(bytes, at, end);
    if (next < 0 || !readTracker(bytes, at, next)) return false;
    visitor.tracker(scratch);
    at = next;
  }
  return true;
}

function readTracker(bytes: Buffer, start: number, end: number): boolean {
  const out = scratch;
  out.id = bytes.readUInt16LE(start);
  out.hasPosition = false;
  out.hasValidity = false;
  out.hasTimestamp = false;
  for (let at = start + CHUNK_HEAD_BYTES; at < end; ) {
    const next = chunkEnd(bytes, at, end);
    if (next < 0) return false;
    const from = at + CHUNK_HEAD_BYTES;
    switch (bytes.readUInt16LE(at)) {
      case FIELD.position:
        if (next - from < VECTOR_BYTES) return false;
        out.hasPosition = true;
        out.x = bytes.readFloatLE(from);
        out.y = bytes.readFloatLE(from + 4);
        out.z = bytes.readFloatLE(from + 8);
        break;
      case FIELD.status:
        if (next - from < STATUS_BYTES) return false;
        out.hasValidity = true;
        out.validity = bytes.readFloatLE(from);
        break;
      case FIELD.timestamp:
        if (next - from < TIMESTAMP_BYTES) return false;
        out.hasTimestamp = true;
        // Exact up to 2^53 us, which is 285 years.
        out.timestampUs = bytes.readUInt32LE(from + 4) * 2 ** 32 + bytes.readUInt32LE(from);
        break;
    }
    at = next;
  }
  return true;
}

function walkInfo(bytes: Buffer, start: number, end: number, visitor: PsnVisitor): boolean {
  for (let at = start; at < end; ) {
    const next = chunkEnd(bytes, at, end);
    if (next < 0) return false;
    const tracker = bytes.readUInt16LE(at);
    for (let inner = at + CHUNK_HEAD_BYTES; inner < next; ) {
      const innerEnd = chunkEnd(bytes, inner, next);
      if (innerEnd < 0) return false;
      if (bytes.readUInt16LE(inner) === TRACKER_NAME) {
        visitor.trackerName?.(tracker, textOf(bytes, inner + CHUNK_HEAD_BYTES, innerEnd));
      }
      inner = innerEnd;
    }
    at = next;
  }
  return true;
}

/** No longer than anybody reads; some senders end their names with a NUL. */
const MAX_NAME_BYTES = 64;

function textOf(bytes: Buffer, from: number, end: number): string {
  const text = bytes.toString('utf8', from, Math.min(end, from + MAX_NAME_BYTES));
  const nul = text.indexOf('\0');
  return nul < 0 ? text : text.slice(0, nul);
}
