/**
 * The recording format, version 1 (docs/reference/recording-format.md): a part is eight bytes of magic
 * and then records, one after the other. Little-endian throughout.
 */
export const PART_SUFFIX = '.lwrec';

/** "LWREC", a line end that a transfer as text would damage, and the version of the format. */
export const MAGIC = Uint8Array.of(0x4c, 0x57, 0x52, 0x45, 0x43, 0x0d, 0x0a, 1);

/** Head of a record; its payload follows. */
export const HEAD = {
  /** u32: CRC-32 of all that follows it in the record, head and payload. */
  crc: 0,
  /** u32: bytes of payload. */
  length: 4,
  /** u8: one of RECORD_TYPES; three bytes of 0 follow. */
  type: 8,
} as const;
export const HEAD_BYTES = 12;
/** Where the CRC begins to count. */
export const CRC_FROM = 4;

/** Place in the list is the number in the file, from 1; new ones go to the end. */
export const RECORD_TYPES = [
  /** JSON: who recorded what; the first of each part. */
  'start',
  /** Datagrams taken in between two ticks. */
  'absorb',
  /** A tick begins: its time, and the datagrams that it takes in. */
  'tick',
  /** It has ended: the slots that have changed. */
  'frame',
  /** JSON: what the engine reported of a tick. */
  'events',
  /** JSON: the engine's counters. */
  'counters',
  /** JSON: what the operator did. */
  'action',
  /** JSON: records are missing here. */
  'gap',
  /** JSON: what the supervisor reported. */
  'supervisor',
  /** JSON: what the tracker made of one report, and why. */
  'explain',
  /** JSON: ended cleanly; nothing follows in this run. */
  'end',
  /** JSON: from which addresses the orders among the datagrams of the next record came. */
  'senders',
  /** JSON: what was heard of the desk for the next tick: those slots that anything rests on. */
  'desk',
  /** JSON: how long positions took to the light, since the record before. */
  'delays',
] as const;
export type RecordType = (typeof RECORD_TYPES)[number];
export type JsonType = Exclude<RecordType, 'absorb' | 'tick' | 'frame'>;

/** Payload of `absorb` and `tick`; the datagrams follow to its end. */
export const INTAKE = {
  /** u32: number of the tick in its run, from 0; for `absorb` that of the tick to come. */
  tick: 0,
  /** f64: when the engine took them in, monotonic seconds. */
  now: 4,
  /** f64: Unix time less monotonic time at that moment, seconds. */
  unixOffset: 12,
  datagrams: 20,
} as const;

/** One datagram in there; its bytes follow. */
export const DATAGRAM = {
  /** f64: monotonic seconds. */
  arrival: 0,
  /** u16: index of the input in the show. */
  input: 8,
  /** u16: bytes; a UDP datagram over IPv4 has 65507 at most. */
  length: 10,
  bytes: 12,
} as const;

/**
 * Payload of `frame`. Changes follow to its end, each as: slots passed over since the last change and
 * number of slots changed (both unsigned LEB128), then their levels. Before a part's first frame all
 * slots are 0.
 */
export const FRAME = {
  /** u32: number of the tick. */
  tick: 0,
  /** f64: when the levels had been handed on, monotonic seconds. */
  sent: 4,
  changes: 12,
} as const;

/** More is no record but noise. */
export const MAX_PAYLOAD_BYTES = 512 * 1024 * 1024;
