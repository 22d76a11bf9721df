import { closeSync, openSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { makeRunFolder, partName } from '../../daemon/recorder/folders.js';
import { startRecord } from '../../daemon/recorder/start-record.js';
import type { Datagram, DeskLevels } from '../../engine/values/inputs.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import { deskRecordOf, usedSlots } from '../../recording/desk.js';
import {
  encodeFrame,
  encodeIntake,
  encodeJson,
  frameBytesAtMost,
  intakeBytes,
} from '../../recording/encode.js';
import { MAGIC } from '../../recording/layout.js';
import type { RehearsedTick } from '../../rehearsal/rehearse.js';
import type { Show } from '../../show/model/model.js';
import { patchedSlots, type SlotRuns } from '../../show/model/patched-slots.js';
import { messageOf } from '../../stage/message-of.js';

const WRITE_FROM_BYTES = 1024 * 1024;

interface RehearsalSource {
  readonly text: string;
  readonly file: string;
  readonly tickHz: number;
  readonly unixOffsetS: number;
  readonly version: string;
}

export type RehearsalRecordingChoice =
  | { readonly ok: true; readonly writer: RehearsalRecording | undefined }
  | { readonly ok: false; readonly fault: string };

/** Opens a recording in a new folder in `parent`, as a running show does. */
export function openRehearsalRecording(
  parent: string | boolean | undefined,
  show: Show,
  source: RehearsalSource,
): RehearsalRecordingChoice {
  if (typeof parent !== 'string') return { ok: true, writer: undefined };
  try {
    const folder = makeRunFolder(parent, show.name, new Date(source.unixOffsetS * 1e3));
    const fd = openSync(join(folder, partName('engine', 1)), 'wx');
    return { ok: true, writer: new RehearsalRecording(fd, show, source) };
  } catch (error) {
    const why = messageOf(error);
    return { ok: false, fault: `can't record to ${parent}: ${why}` };
  }
}

/** Writes the recording of a rehearsal. Nothing runs in real time here, so it may wait for the disk. */
export class RehearsalRecording {
  readonly #runs: SlotRuns;
  readonly #usedSlots: readonly (readonly number[])[];
  readonly #last: Uint8Array;
  #buffer = Buffer.alloc(2 * WRITE_FROM_BYTES);
  #length = 0;
  #tick = 0;
  #atS = 0;
  #fault: string | undefined;

  constructor(
    private readonly fd: number,
    show: Show,
    private readonly source: RehearsalSource,
  ) {
    this.#runs = patchedSlots(show);
    this.#usedSlots = usedSlots(show);
    this.#last = new Uint8Array(show.universes.length * 512);
    this.#append(MAGIC);
    const part = { run: 'rehearsal', part: 1 };
    this.#append(startRecord('engine', source, show, source, part, 0, 0, source.unixOffsetS));
  }

  intake(
    tick: number,
    nowS: number,
    datagrams: readonly Datagram[],
    operator: readonly OperatorAction[],
    desk: readonly DeskLevels[],
  ): void {
    if (desk.length > 0) this.#append(encodeJson('desk', deskRecordOf(desk, this.#usedSlots)));
    if (operator.length > 0) this.#append(encodeJson('action', { tick, actions: operator }));
    this.#room(intakeBytes(datagrams));
    const { unixOffsetS } = this.source;
    this.#length = encodeIntake(
      this.#buffer,
      this.#length,
      'tick',
      tick,
      nowS,
      unixOffsetS,
      datagrams,
    );
  }

  ticked({ tick, nowS, levels, events }: RehearsedTick): void {
    this.#room(frameBytesAtMost(this.#runs));
    this.#length = encodeFrame(
      this.#buffer,
      this.#length,
      tick,
      nowS,
      this.#runs,
      levels,
      this.#last,
    );
    if (events.length > 0) this.#append(encodeJson('events', { tick, events }));
    this.#tick = tick + 1;
    this.#atS = nowS;
  }

  /** @returns a message if something could not be written */
  close(): string | undefined {
    this.#append(encodeJson('end', { tick: this.#tick, atS: this.#atS }));
    this.#write();
    closeSync(this.fd);
    return this.#fault;
  }

  #append(bytes: Uint8Array): void {
    this.#room(bytes.length);
    this.#buffer.set(bytes, this.#length);
    this.#length += bytes.length;
  }

  #room(bytes: number): void {
    if (this.#length >= WRITE_FROM_BYTES) this.#write();
    const short = this.#length + bytes - this.#buffer.length;
    if (short > 0) this.#buffer = Buffer.concat([this.#buffer, Buffer.alloc(short)]);
  }

  #write(): void {
    const length = this.#length;
    this.#length = 0;
    if (this.#fault !== undefined) return;
    try {
      for (let done = 0; done < length; ) {
        done += writeSync(this.fd, this.#buffer, done, length - done);
      }
    } catch (error) {
      const why = messageOf(error);
      this.#fault = `the recording could not be written: ${why}`;
    }
  }
}
