import type { Writable } from 'node:stream';
import { packSlots, type SlotRuns } from '../../show/patched-slots.js';
import {
  FRAME,
  HEAD,
  HEAD_BYTES,
  MAGIC,
  MESSAGE_TYPES,
  type MessageType,
  VERSION,
} from './layout.js';

/** More than this unread by the supervisor, and news is dropped rather than kept. */
const MAX_BACKLOG_BYTES = 1024 * 1024;

/** The engine's end of the pipe. Never waits: what doesn't fit is dropped and counted. */
export class PipeWriter {
  readonly #frame: Buffer;
  #sequence = 0;
  framesSkipped = 0;
  messagesDropped = 0;

  constructor(
    private readonly stream: Writable,
    private readonly runs: SlotRuns,
  ) {
    this.#frame = Buffer.alloc(HEAD_BYTES + FRAME.levels + runs.count);
    writeHead(this.#frame, 'frame', 0, FRAME.levels + runs.count);
  }

  /** One buffer serves all frames, so the one before must have left it. */
  frame(levels: Uint8Array, tickS: number, deadlineS: number): void {
    if (this.stream.writableLength > 0) {
      this.framesSkipped += 1;
      return;
    }
    const frame = this.#frame;
    this.#sequence = (this.#sequence + 1) >>> 0;
    frame.writeUInt32LE(this.#sequence, HEAD.sequence);
    frame.writeDoubleLE(tickS, HEAD_BYTES + FRAME.tick);
    frame.writeDoubleLE(deadlineS, HEAD_BYTES + FRAME.deadline);
    packSlots(this.runs, levels, frame, HEAD_BYTES + FRAME.levels);
    this.stream.write(frame);
  }

  json(type: Exclude<MessageType, 'frame'>, value: unknown): void {
    if (this.stream.writableLength > MAX_BACKLOG_BYTES) {
      this.messagesDropped += 1;
      return;
    }
    const payload = Buffer.from(JSON.stringify(value));
    const head = Buffer.alloc(HEAD_BYTES);
    writeHead(head, type, this.#sequence, payload.length);
    this.stream.write(Buffer.concat([head, payload]));
  }
}

function writeHead(head: Buffer, type: MessageType, sequence: number, length: number): void {
  head.writeUInt32LE(MAGIC, HEAD.magic);
  head.writeUInt8(MESSAGE_TYPES.indexOf(type) + 1, HEAD.type);
  head.writeUInt8(VERSION, HEAD.version);
  head.writeUInt32LE(sequence, HEAD.sequence);
  head.writeUInt32LE(length, HEAD.length);
}
