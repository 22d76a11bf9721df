import { join } from 'node:path';
import type { TickInputs } from '../../engine/values/inputs.js';
import { deskRecordOf, usedSlots } from '../../recording/desk.js';
import {
  encodeFrame,
  encodeIntake,
  encodeJson,
  frameBytesAtMost,
  intakeBytes,
} from '../../recording/encode.js';
import type { JsonType } from '../../recording/layout.js';
import { sendersOf } from '../../recording/senders.js';
import type { Show } from '../../show/model/model.js';
import { patchedSlots, type SlotRuns } from '../../show/model/patched-slots.js';
import { plainAndRaw } from '../files/read-file.js';
import { monotonicS } from '../machine/clock.js';
import { deleteOldest, nextNumber, partName } from './folders.js';
import type { RecordedSource, RecordOrders } from './orders.js';
import { PartWriter } from './part-writer.js';
import { startRecord } from './start-record.js';

const COUNTERS_EVERY_S = 10;

/** What the recorder has to say to people. */
export interface RecordingNews {
  readonly kind: 'recording';
  readonly state: 'faulty' | 'behind' | 'well';
  readonly message: string;
}

function runName(): string {
  return `${process.pid}-${Math.round(monotonicS() * 1e3)}`;
}

function missingWords(records: number): string {
  if (records === 0) return '';
  return records === 1 ? '; 1 record is missing' : `; ${records} records are missing`;
}

/** Records the engine: all inputs and results of `step` and `absorb`. Never waits. */
export class EngineRecorder {
  #runs: SlotRuns;
  #usedSlots: readonly (readonly number[])[];
  readonly #last: Uint8Array;
  #frameBytes: number;
  readonly #writer: PartWriter;
  #run = runName();
  /** The run whose engine this one's has gone on from. */
  #before: string | undefined;
  /** Number of the tick to come. */
  tick = 0;
  #partBeganS = 0;
  #countersDueS = 0;
  /** Records that could not be taken since the last that could. */
  #lost = 0;
  #lostSinceS = 0;
  /** Records in a gap that the disk, which has refused, has yet to take. */
  #untold = 0;
  lostRecords = 0;

  constructor(
    private readonly orders: RecordOrders,
    private show: Show,
    private source: RecordedSource,
    private readonly say: (news: RecordingNews) => void,
    retryMs?: number,
  ) {
    this.#runs = patchedSlots(show);
    this.#usedSlots = usedSlots(show);
    this.#last = new Uint8Array(show.universes.length * 512);
    this.#frameBytes = frameBytesAtMost(this.#runs);
    this.#writer = new PartWriter(
      {
        nextNumber: () => nextNumber(orders, 'engine'),
        pathOf: number => join(orders.folder, partName('engine', number)),
        turned: () => this.#thin(),
        fault: message => {
          const { folder } = orders;
          if (message === undefined) {
            const missing = missingWords(this.#untold);
            this.#untold = 0;
            say({
              kind: 'recording',
              state: 'well',
              message: `recording to ${folder} again${missing}`,
            });
          } else {
            const text = `nothing can be recorded to ${folder}: ${message}; the show goes on without`;
            say({ kind: 'recording', state: 'faulty', message: text });
          }
        },
        lost: records => {
          this.#noteLoss();
          // The gap that was to be told of them went with the rest.
          this.#lost += this.#untold + records;
          this.#untold = 0;
          this.lostRecords += records;
        },
      },
      retryMs,
    );
    this.#beginPart();
  }

  /** The engine goes on with another show, with the same universes: a run of its own, in a part of its own. */
  takeShow(show: Show, source: RecordedSource): void {
    this.#end();
    this.show = show;
    this.source = source;
    this.#runs = patchedSlots(show);
    this.#usedSlots = usedSlots(show);
    this.#frameBytes = frameBytesAtMost(this.#runs);
    this.#before = this.#run;
    this.#run = runName();
    this.tick = 0;
    if (this.#writer.broken) return;
    this.#writer.nextPart();
    this.#beginPart();
  }

  /** Before `absorb` or `step` sees the inputs, so that those of the tick that fails are kept. */
  intake(type: 'absorb' | 'tick', inputs: TickInputs, nowS: number): void {
    if (type === 'tick') this.#turnIfDue(nowS);
    const { datagrams, unixOffsetS, operator, desk } = inputs;
    if (type === 'tick' && operator !== undefined && operator.length > 0) {
      this.json('action', { tick: this.tick, actions: operator });
    }
    if (type === 'tick' && desk !== undefined && desk.length > 0) {
      this.json('desk', deskRecordOf(desk, this.#usedSlots));
    }
    const senders = sendersOf(datagrams);
    if (senders !== undefined) this.json('senders', senders);
    const room = this.#room(intakeBytes(datagrams));
    if (room === undefined) return;
    const { out, at } = room;
    this.#writer.commit(encodeIntake(out, at, type, this.tick, nowS, unixOffsetS, datagrams));
  }

  /** After the levels of the tick have been handed on. */
  frame(levels: Uint8Array, events: readonly unknown[], sentS: number): void {
    const room = this.#room(this.#frameBytes);
    if (room !== undefined) {
      const { out, at } = room;
      const end = encodeFrame(out, at, this.tick, sentS, this.#runs, levels, this.#last);
      this.#writer.commit(end);
    }
    if (events.length > 0) this.json('events', { tick: this.tick, events });
    this.tick += 1;
  }

  counters(counters: object, nowS: number): void {
    if (nowS < this.#countersDueS) return;
    this.#countersDueS = nowS + COUNTERS_EVERY_S;
    this.json('counters', { atS: nowS, ...counters });
  }

  json(type: Exclude<JsonType, 'start' | 'end' | 'gap'>, value: unknown): void {
    this.#append(encodeJson(type, value));
  }

  #end(): void {
    this.#append(encodeJson('end', { tick: this.tick, atS: monotonicS() }));
  }

  async close(): Promise<void> {
    this.#end();
    await this.#writer.close();
  }

  /** For the last moment of a process that fails. */
  flushNow(): void {
    this.#writer.flushNow();
  }

  #append(record: Buffer): void {
    const room = this.#room(record.length);
    if (room === undefined) return;
    room.out.set(record, room.at);
    this.#writer.commit(room.at + record.length);
  }

  #room(bytes: number): { readonly out: Buffer; readonly at: number } | undefined {
    if (this.#lost > 0 && !this.#tellGap(bytes)) {
      this.#lose();
      return undefined;
    }
    const room = this.#writer.room(bytes);
    if (room === undefined) this.#lose();
    return room;
  }

  #lose(): void {
    const { broken, faulted } = this.#writer;
    if (this.#lost === 0 && !broken && !faulted) {
      const message = 'the disk is too slow for the recording: records are lost, the show is not';
      this.say({ kind: 'recording', state: 'behind', message });
    }
    this.#noteLoss();
    this.#lost += 1;
    this.lostRecords += 1;
  }

  #noteLoss(): void {
    if (this.#lost === 0 && this.#untold === 0) this.#lostSinceS = monotonicS();
  }

  /** Before the first record after some that were lost, when there is room for both. */
  #tellGap(bytes: number): boolean {
    const writer = this.#writer;
    const records = this.#lost;
    const gap = encodeJson('gap', { records, fromS: this.#lostSinceS, toS: monotonicS() });
    if (!writer.hasCaughtUp || writer.room(gap.length + bytes) === undefined) return false;
    // After a fault it goes on once the disk has taken some of it, which the writer tells.
    if (writer.faulted) this.#untold += records;
    else {
      const message = `recording goes on${missingWords(records)}`;
      this.say({ kind: 'recording', state: 'well', message });
    }
    this.#lost = 0;
    return writer.append(gap);
  }

  #turnIfDue(nowS: number): void {
    const { partBytes, partS } = this.orders;
    const writer = this.#writer;
    const full = writer.partBytes >= partBytes || nowS - this.#partBeganS >= partS;
    if (writer.broken ? !writer.mayRetry : !full) return;
    writer.nextPart();
    this.#beginPart();
  }

  #beginPart(): void {
    this.#partBeganS = monotonicS();
    this.#last.fill(0);
    const { orders, show, source } = this;
    const { part } = this.#writer;
    this.#writer.append(
      startRecord(
        'engine',
        orders,
        show,
        source,
        { run: this.#run, before: this.#before, part },
        this.tick,
        this.#partBeganS,
      ),
    );
  }

  #thin(): void {
    const { parent, totalBytes } = this.orders;
    if (totalBytes === undefined) return;
    deleteOldest(parent, totalBytes).catch(error => {
      const message = `old recordings can't be deleted: ${plainAndRaw(error, 'written')}`;
      this.say({ kind: 'recording', state: 'faulty', message });
    });
  }
}
