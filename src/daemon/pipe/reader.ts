import type { PositionTimes } from '../../live/light-delays.js';
import {
  FRAME,
  HEAD,
  HEAD_BYTES,
  MAGIC,
  MAX_PAYLOAD_BYTES,
  MESSAGE_TYPES,
  type MessageType,
  NO_CUE,
  VERSION,
} from './layout.js';

export type HandedPosition = Pick<PositionTimes, 'stampS' | 'arrivalS' | 'handedS'>;

export interface PipeVisitor {
  /**
   * A section of a frame; `packed` are its patched slots, a view that holds only during the call.
   * @param cue index of the cue that is on; undefined in a show without cues
   * @param position one that the frame has taken in, and when the section left; holds only during the call
   */
  section(
    section: number,
    sequence: number,
    tickS: number,
    deadlineS: number,
    packed: Uint8Array,
    cue: number | undefined,
    position: Readonly<HandedPosition>,
  ): void;
  json(type: Exclude<MessageType, 'frame' | 'snapshot'>, value: unknown): void;
  /** JSON as it came: this end only hands it on. */
  snapshot(text: string): void;
}

/**
 * The supervisor's end of the pipe. Takes bytes in any pieces. What isn't a message by the layout is
 * a fault of the engine: `push` then says so, once and for all, and reads no further.
 */
export class PipeReader {
  readonly #longestFrame: number;
  #kept: Buffer = Buffer.alloc(0);
  #fault: string | undefined;
  readonly #position: HandedPosition = { stampS: 0, arrivalS: 0, handedS: 0 };

  /** @param slotCounts of each section of a frame, how many slots it has */
  constructor(
    private readonly slotCounts: readonly number[],
    private readonly visitor: PipeVisitor,
  ) {
    this.#longestFrame = FRAME.levels + Math.max(0, ...slotCounts);
  }

  /** @returns what is wrong with the stream, or undefined */
  push(chunk: Buffer): string | undefined {
    if (this.#fault !== undefined) return this.#fault;
    let bytes = this.#kept.length === 0 ? chunk : Buffer.concat([this.#kept, chunk]);
    while (bytes.length >= HEAD_BYTES) {
      const length = bytes.readUInt32LE(HEAD.length);
      const type = MESSAGE_TYPES[bytes.readUInt8(HEAD.type) - 1];
      this.#fault = faultOf(bytes, type, length, this.#longestFrame);
      if (this.#fault !== undefined || type === undefined) return this.#fault;
      if (bytes.length < HEAD_BYTES + length) break;
      const sequence = bytes.readUInt32LE(HEAD.sequence);
      this.#fault = this.#deliver(type, sequence, bytes.subarray(HEAD_BYTES, HEAD_BYTES + length));
      if (this.#fault !== undefined) return this.#fault;
      bytes = bytes.subarray(HEAD_BYTES + length);
    }
    this.#kept = bytes;
    return undefined;
  }

  #deliver(type: MessageType, sequence: number, payload: Buffer): string | undefined {
    if (type === 'frame') {
      if (payload.length < FRAME.levels) return `a frame of ${payload.length} bytes`;
      const section = payload.readUInt16LE(FRAME.section);
      const count = this.slotCounts[section];
      if (count === undefined) {
        return `section ${section} of a frame, where there are ${this.slotCounts.length}`;
      }
      const expected = FRAME.levels + count;
      if (payload.length !== expected) {
        return `a frame of ${payload.length} bytes, where ${expected} are expected`;
      }
      const tickS = payload.readDoubleLE(FRAME.tick);
      const deadlineS = payload.readDoubleLE(FRAME.deadline);
      if (!Number.isFinite(tickS) || !Number.isFinite(deadlineS)) return 'a frame without a time';
      const said = payload.readUInt16LE(FRAME.cue);
      const cue = said === NO_CUE ? undefined : said;
      const packed = payload.subarray(FRAME.levels);
      const position = this.#position;
      position.stampS = payload.readDoubleLE(FRAME.stamp);
      position.arrivalS = payload.readDoubleLE(FRAME.arrival);
      position.handedS = payload.readDoubleLE(FRAME.handed);
      this.visitor.section(section, sequence, tickS, deadlineS, packed, cue, position);
      return undefined;
    }
    if (type === 'snapshot') {
      this.visitor.snapshot(payload.toString('utf8'));
      return undefined;
    }
    let value: unknown;
    try {
      value = JSON.parse(payload.toString('utf8'));
    } catch {
      return `a message of type ${type} that is not JSON`;
    }
    this.visitor.json(type, value);
    return undefined;
  }
}

function faultOf(
  bytes: Buffer,
  type: MessageType | undefined,
  length: number,
  longestFrame: number,
): string | undefined {
  if (bytes.readUInt32LE(HEAD.magic) !== MAGIC) return 'bytes that are not a message';
  const version = bytes.readUInt8(HEAD.version);
  if (version !== VERSION) return `a message of version ${version}, where ${VERSION} is spoken`;
  if (type === undefined) return 'a message of a type that does not exist';
  const most = type === 'frame' ? longestFrame : MAX_PAYLOAD_BYTES;
  return length > most ? `a message of ${length} bytes` : undefined;
}
