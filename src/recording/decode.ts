import { crc32 } from 'node:zlib';
import type { Datagram } from '../engine/values/inputs.js';
import {
  CRC_FROM,
  DATAGRAM,
  FRAME,
  HEAD,
  HEAD_BYTES,
  INTAKE,
  type JsonType,
  MAGIC,
  MAX_PAYLOAD_BYTES,
  RECORD_TYPES,
} from './layout.js';

export interface IntakeRecord {
  readonly type: 'absorb' | 'tick';
  readonly tick: number;
  readonly nowS: number;
  readonly unixOffsetS: number;
  readonly datagrams: readonly Datagram[];
}

export interface FrameRecord {
  readonly type: 'frame';
  readonly tick: number;
  readonly sentS: number;
  /** For `applyChanges`. */
  readonly changes: Uint8Array;
}

export interface JsonRecord {
  readonly type: JsonType;
  readonly value: object;
}

export type RecordedItem = IntakeRecord | FrameRecord | JsonRecord;

/** How much of a part could be read. */
export interface PartEnd {
  /** Of the magic and of all whole records. */
  readonly readBytes: number;
  /** What is wrong with the rest, the first fault first; undefined where there is no rest. */
  readonly fault: string | undefined;
}

/**
 * Reads the records of a part one by one. What is not whole (what a power cut leaves half written, what a
 * disk has damaged) is passed over to the next whole record, and a `gap` stands for it. Never throws for
 * what the bytes are.
 * @returns how much of it was whole
 */
export function* readPart(bytes: Buffer): Generator<RecordedItem, PartEnd> {
  const isOurs = MAGIC.subarray(0, -1).every((byte, i) => bytes[i] === byte);
  if (!isOurs)
    return { readBytes: 0, fault: 'it is not a recording: its first bytes are different' };
  const version = bytes[MAGIC.length - 1];
  if (version !== MAGIC.at(-1)) {
    return {
      readBytes: 0,
      fault: `it is of version ${version} of the format; this reads version 1`,
    };
  }
  let at = MAGIC.length;
  let readBytes = at;
  let first: string | undefined;
  while (at < bytes.length) {
    const end = recordEnd(bytes, at);
    const item = typeof end === 'number' ? decodeItem(bytes, at, end) : undefined;
    if (typeof end === 'number' && item !== undefined) {
      if (item !== 'unknown') yield item;
      readBytes += end - at;
      at = end;
      continue;
    }
    const fault =
      typeof end === 'string'
        ? end
        : 'a record is not of this format, though its checksum is right';
    const next = nextWhole(bytes, at + 1);
    if (next === undefined) return { readBytes, fault: first ?? fault };
    const what =
      at === MAGIC.length ? 'the first record, which says what was recorded,' : 'a record';
    first ??= `${what} is damaged; reading goes on from the next whole record, ${next - at} bytes later`;
    yield { type: 'gap', value: { damagedBytes: next - at } };
    at = next;
  }
  return { readBytes, fault: first };
}

/** End of the record that begins here, or why it is not whole. */
function recordEnd(bytes: Buffer, at: number): number | string {
  const hasHead = at + HEAD_BYTES <= bytes.length;
  const end = at + HEAD_BYTES + (hasHead ? bytes.readUInt32LE(at + HEAD.length) : 0);
  if (end > bytes.length || end - at > MAX_PAYLOAD_BYTES) return 'the last record was cut off';
  return crc32(bytes.subarray(at + CRC_FROM, end)) === bytes.readUInt32LE(at + HEAD.crc)
    ? end
    : 'a record is damaged: its checksum does not match';
}

/**
 * Where the next whole record of a type that is known begins: its type and three zeros are looked for, and
 * then its checksum. Bytes that only look like heads, each of a long record, must not cost more than all that is read.
 */
function nextWhole(bytes: Buffer, from: number): number | undefined {
  let leftBytes = MOST_SEARCHED * bytes.length;
  for (let at = from; at + HEAD_BYTES <= bytes.length; at++) {
    const type = bytes[at + HEAD.type] as number;
    if (type === 0 || type > RECORD_TYPES.length) continue;
    if (bytes.readUInt32LE(at + HEAD.type) >>> 8 !== 0) continue;
    const length = bytes.readUInt32LE(at + HEAD.length);
    if (at + HEAD_BYTES + length > bytes.length || length > leftBytes) continue;
    leftBytes -= length;
    const end = recordEnd(bytes, at);
    if (typeof end === 'number' && decodeItem(bytes, at, end) !== undefined) return at;
  }
  return undefined;
}

/** How often all bytes are summed up at most in the search for a whole record. */
const MOST_SEARCHED = 4;

/** @returns 'unknown' for a type of a later release, to be passed over; undefined for what makes no sense */
function decodeItem(bytes: Buffer, at: number, end: number): RecordedItem | 'unknown' | undefined {
  const type = RECORD_TYPES[bytes.readUInt8(at + HEAD.type) - 1];
  const payload = at + HEAD_BYTES;
  switch (type) {
    case undefined:
      return 'unknown';
    case 'absorb':
    case 'tick': {
      if (end - payload < INTAKE.datagrams) return undefined;
      const datagrams = decodeDatagrams(bytes, payload + INTAKE.datagrams, end);
      if (datagrams === undefined) return undefined;
      return {
        type,
        tick: bytes.readUInt32LE(payload + INTAKE.tick),
        nowS: bytes.readDoubleLE(payload + INTAKE.now),
        unixOffsetS: bytes.readDoubleLE(payload + INTAKE.unixOffset),
        datagrams,
      };
    }
    case 'frame':
      if (end - payload < FRAME.changes) return undefined;
      return {
        type,
        tick: bytes.readUInt32LE(payload + FRAME.tick),
        sentS: bytes.readDoubleLE(payload + FRAME.sent),
        changes: bytes.subarray(payload + FRAME.changes, end),
      };
    default:
      return decodeJson(type, bytes.toString('utf8', payload, end));
  }
}

function decodeJson(type: JsonType, text: string): JsonRecord | undefined {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === 'object' && value !== null ? { type, value } : undefined;
  } catch {
    return undefined;
  }
}

function decodeDatagrams(bytes: Buffer, at: number, end: number): Datagram[] | undefined {
  const datagrams: Datagram[] = [];
  while (at < end) {
    if (end - at < DATAGRAM.bytes) return undefined;
    const from = at + DATAGRAM.bytes;
    const past = from + bytes.readUInt16LE(at + DATAGRAM.length);
    if (past > end) return undefined;
    datagrams.push({
      input: bytes.readUInt16LE(at + DATAGRAM.input),
      arrivalS: bytes.readDoubleLE(at + DATAGRAM.arrival),
      bytes: bytes.subarray(from, past),
    });
    at = past;
  }
  return datagrams;
}

/**
 * Brings `levels` to those of the frame.
 * @returns false where the changes don't fit into them; they are then as far as they did
 */
export function applyChanges(changes: Uint8Array, levels: Uint8Array): boolean {
  let slot = 0;
  let at = 0;
  const varint = () => {
    let value = 0;
    for (let shift = 0; shift < 28; shift += 7) {
      const byte = changes[at++] ?? 0;
      value |= (byte & 0x7f) << shift;
      if (byte < 0x80) return value;
    }
    return Number.POSITIVE_INFINITY;
  };
  while (at < changes.length) {
    slot += varint();
    const count = varint();
    if (!(slot + count <= levels.length && at + count <= changes.length)) return false;
    for (let i = 0; i < count; i++) levels[slot++] = changes[at++] as number;
  }
  return true;
}
