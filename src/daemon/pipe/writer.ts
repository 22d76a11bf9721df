import type { Writable } from 'node:stream';
import type { PositionTimes } from '../../live/light-delays.js';
import { packSlots, type SlotRuns } from '../../show/model/patched-slots.js';
import { monotonicS } from '../machine/clock.js';
import {
  FRAME,
  HEAD,
  HEAD_BYTES,
  MAGIC,
  MESSAGE_TYPES,
  type MessageType,
  NO_CUE,
  VERSION,
} from './layout.js';

/** More than this unread by the supervisor, and news is dropped rather than kept. */
const MAX_BACKLOG_BYTES = 1024 * 1024;

/** When it was measured and when it arrived, monotonic seconds. */
export type TimedPosition = Pick<PositionTimes, 'stampS' | 'arrivalS'>;
const NO_POSITION: TimedPosition = { stampS: Number.NaN, arrivalS: Number.NaN };

/** The engine's end of the pipe. Never waits: what doesn't fit is dropped and counted. */
export class PipeWriter {
  /** One buffer for each section serves all frames. */
  readonly #buffers: readonly Buffer[];
  #sequence = 0;
  #skipping = false;
  framesSkipped = 0;
  messagesDropped = 0;

  /** @param sections patched slots of each section of a frame */
  constructor(
    private readonly stream: Writable,
    private readonly sections: readonly SlotRuns[],
  ) {
    this.#buffers = sections.map(({ count }, section) => {
      const buffer = Buffer.alloc(HEAD_BYTES + FRAME.levels + count);
      writeHead(buffer, 'frame', 0, FRAME.levels + count);
      buffer.writeUInt16LE(section, HEAD_BYTES + FRAME.section);
      return buffer;
    });
  }

  /**
   * Hands one section of a frame on; all sections of a frame come in order. While anything of what came before
   * it is still to leave, a frame is skipped, whole: the buffers may be under way.
   * @param cue index of the cue that is on
   * @param position one that this frame has taken in
   */
  section(
    section: number,
    levels: Uint8Array,
    tickS: number,
    deadlineS: number,
    cue: number = NO_CUE,
    position: Readonly<TimedPosition> = NO_POSITION,
  ): void {
    const [runs, buffer] = [this.sections[section], this.#buffers[section]];
    if (runs === undefined || buffer === undefined) return;
    if (section === 0) {
      this.#skipping = this.stream.writableLength > 0;
      if (this.#skipping) this.framesSkipped += 1;
      else this.#sequence = (this.#sequence + 1) >>> 0;
    }
    if (this.#skipping) return;
    buffer.writeUInt32LE(this.#sequence, HEAD.sequence);
    buffer.writeDoubleLE(tickS, HEAD_BYTES + FRAME.tick);
    buffer.writeDoubleLE(deadlineS, HEAD_BYTES + FRAME.deadline);
    buffer.writeUInt16LE(cue, HEAD_BYTES + FRAME.cue);
    buffer.writeDoubleLE(position.stampS, HEAD_BYTES + FRAME.stamp);
    buffer.writeDoubleLE(position.arrivalS, HEAD_BYTES + FRAME.arrival);
    buffer.writeDoubleLE(monotonicS(), HEAD_BYTES + FRAME.handed);
    packSlots(runs, levels, buffer, HEAD_BYTES + FRAME.levels);
    this.stream.write(buffer);
  }

  /** @returns false: dropped */
  json(type: Exclude<MessageType, 'frame'>, value: unknown): boolean {
    if (this.stream.writableLength > MAX_BACKLOG_BYTES) {
      this.messagesDropped += 1;
      return false;
    }
    const payload = Buffer.from(JSON.stringify(value));
    const head = Buffer.alloc(HEAD_BYTES);
    writeHead(head, type, this.#sequence, payload.length);
    this.stream.write(Buffer.concat([head, payload]));
    return true;
  }
}

function writeHead(head: Buffer, type: MessageType, sequence: number, length: number): void {
  head.writeUInt32LE(MAGIC, HEAD.magic);
  head.writeUInt8(MESSAGE_TYPES.indexOf(type) + 1, HEAD.type);
  head.writeUInt8(VERSION, HEAD.version);
  head.writeUInt32LE(sequence, HEAD.sequence);
  head.writeUInt32LE(length, HEAD.length);
}
