import { closeSync, existsSync, fsyncSync, openSync, writeSync } from 'node:fs';
import { type FileHandle, open, stat } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { MAGIC } from '../../recording/layout.js';
import { inPlainWords } from '../files/read-file.js';

/** How often the file is written: a reader is this far behind, and this much is lost with the process. */
const WRITE_EVERY_MS = 200;
/** A power cut loses so much, and what the disk itself still holds. */
const SYNC_EVERY_MS = 1000;
const CHUNK_BYTES = 256 * 1024;
/** Records that wait for the disk: ten seconds of a house of a hundred performers. */
const MAX_WAITING_BYTES = 8 * 1024 * 1024;
/** How long after a fault of the disk a new part is begun. */
const RETRY_MS = 10_000;
const CLOSES_WITHIN_MS = 2000;
/** Chunks kept for use again. */
const MOST_SPARE = 4;

interface Chunk {
  readonly buffer: Buffer;
  /** Bytes in use. */
  length: number;
  /** Records in it. */
  records: number;
  /** The part that it belongs to, and where in it, bytes. */
  part: number;
  position: number;
}

export interface PartWriterHooks {
  /** The number that the next file is to have; asked at the start, and again after a fault. */
  nextNumber(): Promise<number>;
  /** The path of the file of that number. */
  pathOf(number: number): string;
  /** A part was closed, and another begins. */
  turned(): void;
  /** Nothing can be written; `undefined`: it can again. */
  fault(message: string | undefined): void;
  /** So many records that had been taken are lost, as the disk refused. */
  lost(records: number): void;
}

/**
 * Appends records to numbered files without ever waiting: what the disk does not take in time waits
 * in memory up to a bound, and beyond it is refused. Writing is the thread pool's.
 */
export class PartWriter {
  /** Of the present part. */
  partBytes = 0;
  /** Counted from 1; the numbers of files may go on from those that are there. */
  part = 1;
  /** Nothing is taken until a new part is begun. */
  broken = false;
  #chunk: Chunk | undefined;
  readonly #waiting: Chunk[] = [];
  readonly #spare: Buffer[] = [];
  #waitingBytes = 0;
  #file: { readonly part: number; readonly path: string; readonly handle: FileHandle } | undefined;
  /** Number of a file less its part; undefined until the folder has been looked at. */
  #shift: number | undefined;
  #draining: Promise<void> | undefined;
  #syncedMs = 0;
  #faulted = false;
  #retryMs = 0;
  readonly #timer: NodeJS.Timeout;

  constructor(
    private readonly hooks: PartWriterHooks,
    private readonly retryMs = RETRY_MS,
  ) {
    this.#begin();
    this.#timer = setInterval(() => this.#flush(), WRITE_EVERY_MS);
    this.#timer.unref();
  }

  /** The disk has refused, and has not taken anything since. */
  get faulted(): boolean {
    return this.#faulted;
  }

  /** The disk has refused, and it is time to try again with a new part. */
  get mayRetry(): boolean {
    return this.broken && performance.now() >= this.#retryMs;
  }

  /** The disk keeps up: records that were refused need not be refused again at once. */
  get hasCaughtUp(): boolean {
    return this.#waitingBytes <= MAX_WAITING_BYTES / 2;
  }

  /** What follows goes to a new file. */
  nextPart(): void {
    this.#putAway();
    this.part += 1;
    this.broken = false;
    this.#begin();
  }

  /**
   * Room for a record.
   * @returns undefined where there is none: the record is lost, and the caller counts it
   */
  room(atMostBytes: number): { readonly out: Buffer; readonly at: number } | undefined {
    if (this.broken) return undefined;
    let chunk = this.#chunk;
    if (chunk === undefined || chunk.length + atMostBytes > chunk.buffer.length) {
      this.#putAway();
      const bytes = Math.max(CHUNK_BYTES, atMostBytes);
      if (this.#waitingBytes + bytes > MAX_WAITING_BYTES) return undefined;
      const spare = bytes === CHUNK_BYTES ? this.#spare.pop() : undefined;
      const buffer = spare ?? Buffer.allocUnsafeSlow(bytes);
      chunk = { buffer, length: 0, records: 0, part: this.part, position: this.partBytes };
      this.#chunk = chunk;
    }
    return { out: chunk.buffer, at: chunk.length };
  }

  /** The record that was written into `room` ends here. @param records 0 for one that is not missed */
  commit(end: number, records = 1): void {
    const chunk = this.#chunk;
    if (chunk === undefined) return;
    this.partBytes += end - chunk.length;
    chunk.length = end;
    chunk.records += records;
  }

  /** Of the file itself: it is not counted among the records that are lost. @returns false where there was no room */
  append(record: Uint8Array): boolean {
    const room = this.room(record.length);
    if (room === undefined) return false;
    room.out.set(record, room.at);
    this.commit(room.at + record.length, 0);
    return true;
  }

  /** Writes all that waits, makes it safe and closes. */
  async close(): Promise<void> {
    clearInterval(this.#timer);
    this.#putAway();
    const written = this.#drain().then(() => this.#closeFile());
    // A disk that hangs must not keep the process.
    await Promise.race([written, sleep(CLOSES_WITHIN_MS, undefined, { ref: false })]);
  }

  /** The process is about to die: what waits is written now, whatever it costs. */
  flushNow(): void {
    this.#putAway();
    try {
      let path = this.#file?.path;
      let part = this.#file?.part;
      for (const chunk of this.#waiting) {
        if (path === undefined || part !== chunk.part) {
          path = this.#createNow(chunk.part);
          part = chunk.part;
        }
        // What is under way is written a second time, to the same place.
        const fd = openSync(path, 'r+');
        writeSync(fd, chunk.buffer, 0, chunk.length, chunk.position);
        fsyncSync(fd);
        closeSync(fd);
      }
    } catch {
      // Nobody is left to be told.
    }
  }

  /** The file of a part, under the first number that is free. @returns its path */
  #createNow(part: number): string {
    for (let number = part + (this.#shift ?? 0); ; number++) {
      const path = this.hooks.pathOf(number);
      if (existsSync(path)) continue;
      closeSync(openSync(path, 'wx'));
      this.#shift = number - part;
      return path;
    }
  }

  #begin(): void {
    this.partBytes = 0;
    this.append(MAGIC);
  }

  #flush(): void {
    this.#putAway();
    void this.#drain();
  }

  #putAway(): void {
    const chunk = this.#chunk;
    if (chunk === undefined || chunk.length === 0) return;
    this.#chunk = undefined;
    this.#waiting.push(chunk);
    this.#waitingBytes += chunk.buffer.length;
  }

  #drain(): Promise<void> {
    this.#draining ??= this.#writeWaiting().finally(() => {
      this.#draining = undefined;
    });
    return this.#draining;
  }

  async #writeWaiting(): Promise<void> {
    for (let chunk = this.#waiting[0]; chunk !== undefined; chunk = this.#waiting[0]) {
      try {
        await this.#write(chunk);
        if (this.#faulted) this.hooks.fault(undefined);
        this.#faulted = false;
      } catch (error) {
        await this.#refused(error);
        return;
      }
      this.#waiting.shift();
      this.#waitingBytes -= chunk.buffer.length;
      if (chunk.buffer.length === CHUNK_BYTES && this.#spare.length < MOST_SPARE) {
        this.#spare.push(chunk.buffer);
      }
    }
  }

  async #write(chunk: Chunk): Promise<void> {
    if (this.#file?.part !== chunk.part) {
      await this.#closeFile();
      this.#shift ??= (await this.hooks.nextNumber()) - chunk.part;
      const path = this.hooks.pathOf(chunk.part + this.#shift);
      this.#file = { part: chunk.part, path, handle: await open(path, 'wx') };
      this.hooks.turned();
    }
    const { handle, path } = this.#file;
    let done = 0;
    while (done < chunk.length) {
      const { bytesWritten } = await handle.write(
        chunk.buffer,
        done,
        chunk.length - done,
        chunk.position + done,
      );
      done += bytesWritten;
    }
    if (performance.now() - this.#syncedMs >= SYNC_EVERY_MS) {
      this.#syncedMs = performance.now();
      await handle.datasync();
      // A file that is deleted, or whose folder is, takes whatever is written to it, and keeps nothing.
      const [there, ours] = await Promise.all([stat(path), handle.stat()]);
      if (there.ino !== ours.ino || there.dev !== ours.dev) throw new Error('its file is gone');
    }
  }

  async #closeFile(): Promise<void> {
    const file = this.#file;
    this.#file = undefined;
    try {
      await file?.handle.sync();
      await file?.handle.close();
    } catch {
      // A disk that fails now has failed before, and that was said.
    }
  }

  /** What waits for this part is lost, and so is what would follow it there. */
  async #refused(error: unknown): Promise<void> {
    this.broken = true;
    this.#retryMs = performance.now() + this.retryMs;
    let records = this.#chunk?.records ?? 0;
    for (const chunk of this.#waiting) records += chunk.records;
    this.#waiting.length = 0;
    this.#waitingBytes = 0;
    this.#chunk = undefined;
    this.#shift = undefined;
    await this.#closeFile();
    if (!this.#faulted) this.hooks.fault(reasonOf(error));
    this.#faulted = true;
    this.hooks.lost(records);
  }
}

function reasonOf(error: unknown): string {
  const { code } = error as NodeJS.ErrnoException;
  return code === 'ENOENT' ? 'the folder is gone' : inPlainWords(error, 'written');
}
