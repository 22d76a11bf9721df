/**
 * PosiStageNet 2.03 (2019-09-09): chunks in chunks, all little-endian. A chunk has a head of 4 bytes: its id, and a
 * word with the length of its data in 15 bits and in the top bit whether that is made of chunks. Chunks that
 * are not known are skipped, and known ones may grow at their end.
 */
export const PSN_PORT = 56_565;
export const PSN_GROUP = '236.10.10.10';
/** The standard: a packet has at most so many bytes. */
export const PSN_MAX_BYTES = 1500;
export const PSN_VERSION = [2, 3] as const;
export const MAX_PSN_TRACKER = 0xffff;

export const CHUNK_HEAD_BYTES = 4;
export const LENGTH_MASK = 0x7fff;
export const HAS_CHUNKS = 0x8000;

/** Of a whole packet. */
export const DATA_PACKET = 0x6755;
export const INFO_PACKET = 0x6756;

/** In either packet. */
export const PACKET_HEADER = 0x0000;
/** u64 microseconds, version high and low, frame id, packets in the frame: a byte each. */
export const PACKET_HEADER_BYTES = 12;

/** In a data packet. */
export const DATA_TRACKERS = 0x0001;
/** In a tracker of a data packet, whose own chunk id is its number. */
export const FIELD = {
  position: 0x0000,
  speed: 0x0001,
  orientation: 0x0002,
  status: 0x0003,
  acceleration: 0x0004,
  target: 0x0005,
  timestamp: 0x0006,
} as const;
/** Three float32; one float32; one u64. */
export const VECTOR_BYTES = 12;
export const STATUS_BYTES = 4;
export const TIMESTAMP_BYTES = 8;

/** In an info packet. */
export const SYSTEM_NAME = 0x0001;
export const INFO_TRACKERS = 0x0002;
/** In a tracker of an info packet. */
export const TRACKER_NAME = 0x0000;
