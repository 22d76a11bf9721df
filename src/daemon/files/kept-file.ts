import { stat } from 'node:fs/promises';
import { dirname } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { OwnFolder } from './own-folder.js';
import { inPlainWords, readText } from './read-file.js';
import { writeWhole } from './whole-file.js';

/** What a restart needs: the show that was accepted last, who this source is, and what it sent last. */
export type KeptThing = 'accepted-show' | 'identity' | 'last-look';

export type KeptEvent =
  /** A restart would not find it; trying again each second. */
  | {
      readonly kind: 'unkept';
      readonly what: KeptThing;
      readonly file: string;
      readonly reason: string;
    }
  /** It is where a restart finds it again. */
  | { readonly kind: 'kept'; readonly what: KeptThing; readonly file: string };

/** How often it is looked whether it is still there, ms. */
export const LOOK_EVERY_MS = 1000;
/** So long the end waits for the disk, ms. */
const SETTLES_WITHIN_MS = 1000;

/** Says once that something is not kept, again when that has another reason, and once that it is kept again. */
export class KeptNews {
  #told: string | undefined;

  constructor(
    private readonly what: KeptThing,
    private readonly file: string,
    private readonly onEvent: (event: KeptEvent) => void,
  ) {}

  /** @param reason why it is not kept; undefined: it is */
  tell(reason: string | undefined): void {
    const { what, file } = this;
    if (reason === this.#told) return;
    this.#told = reason;
    this.onEvent(
      reason === undefined ? { kind: 'kept', what, file } : { kind: 'unkept', what, file, reason },
    );
  }
}

export interface KeptFileOptions {
  readonly what: KeptThing;
  readonly file: string;
  /** What is there and is not ours is told of, and left as it is. */
  readonly sparesOthers: boolean;
  readonly mostBytes: number;
  onEvent(event: KeptEvent): void;
}

/**
 * A small file that must survive: a folder that vanishes (a pulled stick, a deleted folder) takes it along, and one
 * that comes back may hold an older copy. It is checked each second, and written again if it is not what it should
 * be. A folder that was there is not recreated: it may be the mount point of a disk.
 */
export class KeptFile {
  #content: string | undefined;
  /** Of the file as it was written or read: the same, and nothing has become of it. */
  #stamp: string | undefined;
  #busy: Promise<void> = Promise.resolve();
  #looking = false;
  readonly #folder: OwnFolder;
  readonly #news: KeptNews;
  readonly #timer: NodeJS.Timeout;

  constructor(private readonly options: KeptFileOptions) {
    const { what, file, onEvent } = options;
    this.#folder = new OwnFolder(dirname(file));
    this.#news = new KeptNews(what, file, onEvent);
    this.#timer = setInterval(() => void this.look(), LOOK_EVERY_MS);
    this.#timer.unref();
  }

  /** To be in the file from now on; the newest counts, one after the other. Its folder is made. */
  keep(content: string): void {
    if (content === this.#content) return;
    this.#content = content;
    this.#stamp = undefined;
    this.#busy = this.#busy.then(() => this.#renew());
  }

  /** The content of the file, as far as is known; it is looked at soon. */
  expect(content: string, fault: string | undefined): void {
    this.#content = content;
    if (fault !== undefined) this.#news.tell(fault);
  }

  /** Whether it is still there. */
  async look(): Promise<void> {
    if (this.#looking) return;
    this.#looking = true;
    this.#busy = this.#busy.then(() => this.#renew());
    await this.#busy;
    this.#looking = false;
  }

  /** It is not looked after any more. @returns when the newest is on the disk, or could not be brought there */
  async end(): Promise<void> {
    clearInterval(this.#timer);
    await Promise.race([this.#busy, sleep(SETTLES_WITHIN_MS, undefined, { ref: false })]);
  }

  async #renew(): Promise<void> {
    const { file, sparesOthers, mostBytes } = this.options;
    const content = this.#content;
    if (content === undefined) return;
    const gone = await this.#folder.fault();
    if (gone !== undefined && this.#folder.wasThere) return this.#news.tell(gone);
    try {
      const stamp = await stampOf(file);
      // Also where its folder was away in the meantime, and came back as it was.
      if (stamp !== undefined && stamp === this.#stamp) return this.#news.tell(undefined);
      if (stamp === undefined || !sparesOthers) return await this.#write(content);
      const read = readText(file, mostBytes);
      const isOurs = read.ok && read.text.trim() === content.trim();
      if (isOurs) this.#stamp = stamp;
      this.#news.tell(
        isOurs ? undefined : read.ok ? 'what it holds is not the one in use' : read.fault,
      );
    } catch (error) {
      this.#news.tell(inPlainWords(error, 'written'));
    }
  }

  async #write(content: string): Promise<void> {
    const { file } = this.options;
    try {
      await writeWhole(file, content);
      await this.#folder.fault();
      const stamp = await stampOf(file);
      // Newer content may have come meanwhile.
      if (content === this.#content) this.#stamp = stamp;
      this.#news.tell(undefined);
    } catch (error) {
      this.#news.tell(inPlainWords(error, 'written'));
    }
  }
}

/** undefined: there is no such file. */
async function stampOf(file: string): Promise<string | undefined> {
  try {
    const { dev, ino, size, mtimeMs } = await stat(file);
    return `${dev} ${ino} ${size} ${mtimeMs}`;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
    throw error;
  }
}
