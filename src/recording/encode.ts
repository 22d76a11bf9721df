import { crc32 } from 'node:zlib';
import type { Datagram } from '../engine/values/inputs.js';
import type { SlotRuns } from '../show/model/patched-slots.js';
import {
  CRC_FROM,
  DATAGRAM,
  FRAME,
  HEAD,
  HEAD_BYTES,
  INTAKE,
  type JsonType,
  RECORD_TYPES,
  type RecordType,
} from './layout.js';

/** A whole record of JSON. */
export function encodeJson(type: JsonType, value: unknown): Buffer {
  const payload = Buffer.from(JSON.stringify(value));
  const record = Buffer.alloc(HEAD_BYTES + payload.length);
  payload.copy(record, HEAD_BYTES);
  seal(record, 0, type, record.length);
  return record;
}

/** Bytes of an `absorb` or `tick` record of these datagrams. */
export function intakeBytes(datagrams: readonly Datagram[]): number {
  let bytes = HEAD_BYTES + INTAKE.datagrams;
  for (const datagram of datagrams) bytes += DATAGRAM.bytes + datagram.bytes.length;
  return bytes;
}

/**
 * Writes an `absorb` or `tick` record.
 * @param out with room for `intakeBytes` from `at`
 * @returns where it ends
 */
export function encodeIntake(
  out: Buffer,
  at: number,
  type: 'absorb' | 'tick',
  tick: number,
  nowS: number,
  unixOffsetS: number,
  datagrams: readonly Datagram[],
): number {
  const payload = at + HEAD_BYTES;
  out.writeUInt32LE(tick, payload + INTAKE.tick);
  out.writeDoubleLE(nowS, payload + INTAKE.now);
  out.writeDoubleLE(unixOffsetS, payload + INTAKE.unixOffset);
  let end = payload + INTAKE.datagrams;
  for (const { input, bytes, arrivalS } of datagrams) {
    out.writeDoubleLE(arrivalS, end + DATAGRAM.arrival);
    out.writeUInt16LE(input, end + DATAGRAM.input);
    out.writeUInt16LE(bytes.length, end + DATAGRAM.length);
    out.set(bytes, end + DATAGRAM.bytes);
    end += DATAGRAM.bytes + bytes.length;
  }
  seal(out, at, type, end);
  return end;
}

/** A gap of up to four bytes and a length of up to four before each run of changed slots. */
const WORST_BYTES_A_SLOT = 9;

/** Bytes that a `frame` record takes at the most. */
export function frameBytesAtMost(runs: SlotRuns): number {
  return HEAD_BYTES + FRAME.changes + WORST_BYTES_A_SLOT * runs.count;
}

/**
 * Writes a `frame` record of the slots that differ from `last`, and makes `last` equal to `levels`.
 * @param out with room for `frameBytesAtMost` from `at`
 * @param runs the slots to look at: no other ever changes
 * @returns where it ends
 */
export function encodeFrame(
  out: Buffer,
  at: number,
  tick: number,
  sentS: number,
  runs: SlotRuns,
  levels: Uint8Array,
  last: Uint8Array,
): number {
  const payload = at + HEAD_BYTES;
  out.writeUInt32LE(tick, payload + FRAME.tick);
  out.writeDoubleLE(sentS, payload + FRAME.sent);
  let end = payload + FRAME.changes;
  let done = 0;
  for (let run = 0; run < runs.starts.length; run++) {
    let slot = runs.starts[run] as number;
    const past = slot + (runs.lengths[run] as number);
    while (slot < past) {
      if (levels[slot] === last[slot]) {
        slot += 1;
        continue;
      }
      const from = slot;
      while (slot < past && levels[slot] !== last[slot]) slot += 1;
      end = writeVarint(out, end, from - done);
      end = writeVarint(out, end, slot - from);
      for (let i = from; i < slot; i++) {
        const level = levels[i] as number;
        out[end++] = level;
        last[i] = level;
      }
      done = slot;
    }
  }
  seal(out, at, 'frame', end);
  return end;
}

function writeVarint(out: Uint8Array, at: number, value: number): number {
  while (value > 0x7f) {
    out[at++] = (value & 0x7f) | 0x80;
    value >>>= 7;
  }
  out[at++] = value;
  return at;
}

/** Head and checksum of a record whose payload has been written, from `at` to `end`. */
function seal(out: Buffer, at: number, type: RecordType, end: number): void {
  out.writeUInt32LE(end - at - HEAD_BYTES, at + HEAD.length);
  out.writeUInt32LE(RECORD_TYPES.indexOf(type) + 1, at + HEAD.type);
  out.writeUInt32LE(crc32(out.subarray(at + CRC_FROM, end)), at + HEAD.crc);
}
