import { copyFileSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { OwnFolder } from '../files/own-folder.js';
import { isThere, plainAndRaw, readText } from '../files/read-file.js';
import { writeWhole } from '../files/whole-file.js';

export type StoreEvent =
  | {
      readonly kind: 'state-restored';
      readonly file: string;
      readonly entries: number;
      /** What is done again; recordings of earlier versions don't say. */
      readonly changes?: readonly OperatorAction[];
      /** Since when those are stopped of whom that is known, by name, Unix time in seconds. */
      readonly stoppedSince?: Readonly<Record<string, number>>;
      /** And who had asked. */
      readonly stoppedBy?: Readonly<Record<string, string>>;
      /** The same of the stop of everybody. */
      readonly everybodyStoppedBy?: string;
    }
  /** The file could not be used; it is kept under another name, and everything begins as the show says. */
  | { readonly kind: 'state-unreadable'; readonly file: string; readonly reason: string }
  /** The file is of another show; it is kept under another name. What of it holds here is done again all the same. */
  | { readonly kind: 'state-of-other-show'; readonly file: string; readonly show: string }
  /** It will be tried again; what is not kept is lost if the daemon ends. */
  | { readonly kind: 'state-unsaved'; readonly file: string; readonly reason: string }
  | { readonly kind: 'state-saved'; readonly file: string };

export interface StoreOptions<T> {
  readonly folder: OwnFolder;
  readonly show: string;
  /** What of a file of another show holds in this one: that may be this one under the name it had before. */
  ofOtherShow(state: T): T;
  /** What the file holds, or what is wrong with it. */
  parse(value: unknown): T | string;
  onEvent(event: StoreEvent): void;
}

const FILE = 'operator.json';
const VERSION = 1;
const RETRY_MS = 5000;
/** How often the folder is looked at, ms. */
const LOOK_EVERY_MS = 1000;
/** A disk that takes longer than this for so little is reported as faulty, ms. */
const SLOW_MS = 2000;
/** So long the end waits for the disk, ms. */
const SETTLES_WITHIN_MS = 1000;
/** Far more than all the trackers of a house. */
const MOST_BYTES = 4 * 1024 * 1024;

/**
 * One small file that is whole at any moment: written beside, brought to the disk, then renamed over the
 * old one, so that a crash or a power cut leaves the old or the new. Nothing here waits or throws.
 */
export class StateStore<T> {
  readonly file: string;
  #show: string;
  #wanted: T | undefined;
  #writing = false;
  /** Why the last attempt failed. */
  #failing: string | undefined;
  #retry: NodeJS.Timeout | undefined;
  #idle: (() => void)[] = [];
  /** What is on the disk, or was. */
  #kept: T | undefined;
  #isGone = false;
  #looking = false;
  readonly #look: NodeJS.Timeout;

  constructor(private readonly options: StoreOptions<T>) {
    this.file = join(options.folder.path, FILE);
    this.#show = options.show;
    this.#look = setInterval(() => void this.#lookForFolder(), LOOK_EVERY_MS);
    this.#look.unref();
  }

  /** At the start: what was kept, or undefined if there is nothing, or nothing usable. */
  load(): T | undefined {
    if (!isThere(this.file)) return undefined;
    const read = readText(this.file, MOST_BYTES);
    if (!read.ok) {
      this.#unreadable(read.fault);
      return undefined;
    }
    const found = this.#read(read.text);
    if (typeof found === 'string') {
      this.#setAside();
      this.#unreadable(found);
      return undefined;
    }
    const { state, show } = found;
    if (show !== this.#show) {
      // A copy: what holds must not be lost if this process ends before it is saved.
      this.#setAside(copyFileSync);
      this.options.onEvent({ kind: 'state-of-other-show', file: this.file, show });
      const holds = this.options.ofOtherShow(state);
      this.save(holds);
      return holds;
    }
    this.#kept = state;
    return state;
  }

  /** Keeps this from now on; the newest wins. */
  save(state: T): void {
    this.#wanted = state;
    void this.#write();
  }

  /** What is saved from now on is of this show: two stores would write one file at the same time. */
  swap(show: string): void {
    this.#show = show;
  }

  /** When the newest is on the disk, or could not be brought there; a disk that hangs is not waited for. */
  async settled(): Promise<void> {
    if (!this.#writing) return;
    await new Promise<void>(resolve => {
      this.#idle.push(resolve);
      setTimeout(resolve, SETTLES_WITHIN_MS);
    });
  }

  close(): void {
    clearInterval(this.#look);
    clearTimeout(this.#retry);
  }

  #read(text: string): { state: T; show: string } | string {
    let value: unknown;
    try {
      value = JSON.parse(text);
    } catch {
      return 'it is not JSON';
    }
    const { lampwright, show, ...rest } = Object(value) as Record<string, unknown>;
    if (lampwright !== VERSION) return `it is not of version ${VERSION}`;
    if (typeof show !== 'string') return 'it does not say of which show it is';
    const state = this.options.parse(rest);
    return typeof state === 'string' ? state : { state, show };
  }

  async #write(): Promise<void> {
    if (this.#writing) return;
    clearTimeout(this.#retry);
    this.#writing = true;
    while (this.#wanted !== undefined) {
      const state = this.#wanted;
      this.#wanted = undefined;
      const slow = setTimeout(() => this.#fault('the disk does not answer'), SLOW_MS);
      slow.unref();
      try {
        const { folder } = this.options;
        const gone = folder.wasThere ? await folder.fault() : undefined;
        if (gone !== undefined) throw new Error(gone);
        await writeWhole(
          this.file,
          `${JSON.stringify({ lampwright: VERSION, show: this.#show, ...state }, null, 1)}\n`,
        );
        await folder.fault();
        this.#kept = state;
        this.#well();
      } catch (error) {
        this.#failed(state, error);
        break;
      } finally {
        clearTimeout(slow);
      }
    }
    this.#writing = false;
    for (const done of this.#idle.splice(0)) done();
  }

  #failed(state: T, error: unknown): void {
    this.#wanted ??= state;
    this.#fault(plainAndRaw(error, 'written'));
    this.#retry = setTimeout(() => void this.#write(), RETRY_MS);
    this.#retry.unref();
  }

  #fault(reason: string): void {
    if (reason === this.#failing) return;
    this.#failing = reason;
    this.options.onEvent({ kind: 'state-unsaved', file: this.file, reason });
  }

  #well(): void {
    const isNews = this.#failing !== undefined;
    this.#failing = undefined;
    if (isNews) this.options.onEvent({ kind: 'state-saved', file: this.file });
  }

  /** A folder that vanishes takes along what was kept in it: reported at once, and saved again once it is back. */
  async #lookForFolder(): Promise<void> {
    if (this.#looking || this.#writing) return;
    this.#looking = true;
    const { folder } = this.options;
    const gone = await folder.fault();
    this.#looking = false;
    if (gone === undefined) {
      const isBack = this.#isGone;
      this.#isGone = false;
      if (this.#wanted === undefined) this.#well();
      else if (isBack) void this.#write();
    } else if (folder.wasThere && !this.#isGone) {
      this.#isGone = true;
      this.#fault(gone);
      this.#wanted ??= this.#kept;
    }
  }

  #setAside(by = renameSync): void {
    try {
      by(this.file, `${this.file}.unreadable`);
    } catch {
      // The next save writes over it.
    }
  }

  #unreadable(reason: string): void {
    this.options.onEvent({ kind: 'state-unreadable', file: this.file, reason });
  }
}
