/**
 * What crosses the pipe from the engine to the supervisor: messages of a head of 16 bytes and a
 * payload, little-endian as both ends are one machine. Levels are bytes; what is rare is JSON.
 */
export const HEAD = {
  /** u32: tells a message from noise. */
  magic: 0,
  /** u8: one of MESSAGE_TYPES. */
  type: 4,
  /** u8: both ends come from one installation, but it may have been replaced under a running one. */
  version: 5,
  /** u32: counts the frames; other messages carry that of the last frame. */
  sequence: 8,
  /** u32: bytes of payload. */
  length: 12,
} as const;
export const HEAD_BYTES = 16;

/**
 * Payload of one section of a frame: when its tick began and until when it is worth sending, which section it
 * is, the cue that is on, a position on its way, then the levels of its patched slots (show/model/sections.ts).
 */
export const FRAME = {
  /** f64, monotonic seconds. */
  tick: 0,
  /** f64, monotonic seconds. */
  deadline: 8,
  /** u16, from 0. */
  section: 16,
  /** u16: index of the cue that is on, or coming; NO_CUE in a show without cues. */
  cue: 18,
  /** f64, monotonic seconds: when the position that is timed was measured; NaN: none. See `LightDelays`. */
  stamp: 20,
  /** f64, monotonic seconds. */
  arrival: 28,
  /** f64, monotonic seconds: when this section left the engine. */
  handed: 36,
  levels: 44,
} as const;

export const MAGIC = 0x4c_57_52_54;
export const VERSION = 10;

export const NO_CUE = 0xff_ff;

/** Position in the list is the number on the pipe, from 1. */
export const MESSAGE_TYPES = [
  'hello',
  'frame',
  'events',
  'counters',
  'snapshot',
  'fatal',
  'prepared',
  /** From the next frame on it is another show's. */
  'took over',
  /** Rounds of positions for others. */
  'positions',
  /** It has dropped the other show, and continues as before. */
  'kept show',
  /** Which fixtures are at their safe values, where those are the desk's: whenever it changes. */
  'resting',
  /** Which fixtures a loss takes to their safe values: before the frame in which that begins or ends. */
  'falling',
] as const;
export type MessageType = (typeof MESSAGE_TYPES)[number];

/** A snapshot of a hundred performers and some thousand fixtures is below a megabyte. */
export const MAX_PAYLOAD_BYTES = 8 * 1024 * 1024;
