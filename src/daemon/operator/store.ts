import { readFileSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { messageOf } from '../../stage/message-of.js';
import { writeWhole } from './whole-file.js';

export type StoreEvent =
  | { readonly kind: 'state-restored'; readonly file: string; readonly entries: number }
  /** The file could not be used; it is kept beside under another name, and all begins as the show says. */
  | { readonly kind: 'state-unreadable'; readonly file: string; readonly reason: string }
  /** It will be tried again; what is not kept is lost if the daemon ends. */
  | { readonly kind: 'state-unsaved'; readonly file: string; readonly reason: string }
  | { readonly kind: 'state-saved'; readonly file: string };

export interface StoreOptions<T> {
  readonly folder: string;
  /** A file of another show is not for this one. */
  readonly show: string;
  /** What the file holds, or what is wrong with it. */
  parse(value: unknown): T | string;
  onEvent(event: StoreEvent): void;
}

const FILE = 'operator.json';
const VERSION = 1;
const RETRY_MS = 5000;

/**
 * One small file that is whole at any moment: written beside, brought to the disk, then renamed over the
 * old one, so that a crash or a power cut leaves the old or the new. Nothing here waits or throws.
 */
export class StateStore<T> {
  readonly file: string;
  #wanted: T | undefined;
  #writing = false;
  #failing = false;
  #retry: NodeJS.Timeout | undefined;
  #idle: (() => void)[] = [];

  constructor(private readonly options: StoreOptions<T>) {
    this.file = join(options.folder, FILE);
  }

  /** At the start: what was kept, or undefined where there is nothing, or nothing that can be used. */
  load(): T | undefined {
    let text: string;
    try {
      text = readFileSync(this.file, 'utf8');
    } catch (error) {
      const { code, message } = error as NodeJS.ErrnoException;
      if (code !== 'ENOENT') this.#unreadable(message);
      return undefined;
    }
    const found = this.#read(text);
    if (typeof found === 'string') {
      this.#setAside();
      this.#unreadable(found);
      return undefined;
    }
    return found.state;
  }

  /** Keeps this from now on; the newest wins. */
  save(state: T): void {
    this.#wanted = state;
    void this.#write();
  }

  /** When the newest is on the disk, or could not be brought there. */
  async settled(): Promise<void> {
    if (!this.#writing) return;
    await new Promise<void>(resolve => this.#idle.push(resolve));
  }

  close(): void {
    clearTimeout(this.#retry);
  }

  #read(text: string): { state: T } | string {
    let value: unknown;
    try {
      value = JSON.parse(text);
    } catch {
      return 'it is not JSON';
    }
    const { lampwright, show, ...rest } = Object(value) as Record<string, unknown>;
    if (lampwright !== VERSION) return `it is not of version ${VERSION}`;
    if (show !== this.options.show) return `it is of the show "${String(show)}"`;
    const state = this.options.parse(rest);
    return typeof state === 'string' ? state : { state };
  }

  async #write(): Promise<void> {
    if (this.#writing) return;
    clearTimeout(this.#retry);
    this.#writing = true;
    while (this.#wanted !== undefined) {
      const state = this.#wanted;
      this.#wanted = undefined;
      try {
        const { show } = this.options;
        await writeWhole(
          this.file,
          `${JSON.stringify({ lampwright: VERSION, show, ...state }, null, 1)}\n`,
        );
        if (this.#failing) this.options.onEvent({ kind: 'state-saved', file: this.file });
        this.#failing = false;
      } catch (error) {
        this.#failed(state, error);
        break;
      }
    }
    this.#writing = false;
    for (const done of this.#idle.splice(0)) done();
  }

  #failed(state: T, error: unknown): void {
    this.#wanted ??= state;
    if (!this.#failing) {
      const reason = messageOf(error);
      this.options.onEvent({ kind: 'state-unsaved', file: this.file, reason });
    }
    this.#failing = true;
    this.#retry = setTimeout(() => void this.#write(), RETRY_MS);
    this.#retry.unref();
  }

  #setAside(): void {
    try {
      renameSync(this.file, `${this.file}.unreadable`);
    } catch {
      // The next save writes over it.
    }
  }

  #unreadable(reason: string): void {
    this.options.onEvent({ kind: 'state-unreadable', file: this.file, reason });
  }
}
