import {
  FRAME,
  HEAD,
  HEAD_BYTES,
  MAGIC,
  MAX_PAYLOAD_BYTES,
  MESSAGE_TYPES,
  type MessageType,
  VERSION,
} from './layout.js';

export interface PipeVisitor {
  /** `packed` are the patched slots; a view that holds only during the call. */
  frame(sequence: number, tickS: number, deadlineS: number, packed: Uint8Array): void;
  json(type: Exclude<MessageType, 'frame'>, value: unknown): void;
}

/**
 * The supervisor's end of the pipe. Takes bytes in any pieces. What isn't a message by the layout is
 * a fault of the engine: `push` then says so, once and for all, and reads no further.
 */
export class PipeReader {
  #kept: Buffer = Buffer.alloc(0);
  #fault: string | undefined;

  constructor(
    private readonly slotCount: number,
    private readonly visitor: PipeVisitor,
  ) {}

  /** @returns what is wrong with the stream, or undefined */
  push(chunk: Buffer): string | undefined {
    if (this.#fault !== undefined) return this.#fault;
    let bytes = this.#kept.length === 0 ? chunk : Buffer.concat([this.#kept, chunk]);
    while (bytes.length >= HEAD_BYTES) {
      const length = bytes.readUInt32LE(HEAD.length);
      const type = MESSAGE_TYPES[bytes.readUInt8(HEAD.type) - 1];
      this.#fault = faultOf(bytes, type, length, this.slotCount);
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
      const tickS = payload.readDoubleLE(FRAME.tick);
      const deadlineS = payload.readDoubleLE(FRAME.deadline);
      if (!Number.isFinite(tickS) || !Number.isFinite(deadlineS)) return 'a frame without a time';
      this.visitor.frame(sequence, tickS, deadlineS, payload.subarray(FRAME.levels));
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
  slotCount: number,
): string | undefined {
  if (bytes.readUInt32LE(HEAD.magic) !== MAGIC) return 'bytes that are no message';
  const version = bytes.readUInt8(HEAD.version);
  if (version !== VERSION) return `a message of version ${version}, where ${VERSION} is spoken`;
  if (type === undefined) return 'a message of a type that does not exist';
  if (type === 'frame' && length !== FRAME.levels + slotCount) {
    return `a frame of ${length} bytes, where ${FRAME.levels + slotCount} are expected`;
  }
  return length > MAX_PAYLOAD_BYTES ? `a message of ${length} bytes` : undefined;
}
