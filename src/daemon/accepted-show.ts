import { join, resolve } from 'node:path';
import { MAX_SHOW_BYTES } from '../show/parse.js';
import { messageOf } from '../stage/message-of.js';
import { writeWhole } from './operator/whole-file.js';
import { readText } from './read-file.js';

const FILE = 'accepted-show.json';
const VERSION = 1;
/** JSON makes two characters of a line's end, and at most six of one that is rare in a show. */
const MOST_BYTES = 3 * MAX_SHOW_BYTES;

export type AcceptedEvent = {
  /** A restart over a broken file would not find the show that runs. */
  readonly kind: 'accepted-unsaved';
  readonly file: string;
  readonly reason: string;
};

/**
 * The show that was accepted last, with its profiles, as the text that was read: where a restart finds it, should
 * its file be broken by then.
 */
export class AcceptedShow {
  #kept: string | undefined;
  #saving: Promise<void> = Promise.resolve();

  /** @param folder undefined: kept nowhere */
  constructor(
    private readonly folder: string | undefined,
    private readonly onEvent: (event: AcceptedEvent) => void,
  ) {}

  /** The text of the show that was accepted last from this file; undefined where there is none. */
  static read(folder: string, showFile: string): string | undefined {
    const read = readText(join(folder, FILE), MOST_BYTES);
    if (!read.ok) return undefined;
    try {
      const { lampwright, file, text } = Object(JSON.parse(read.text)) as Record<string, unknown>;
      const isOurs = lampwright === VERSION && file === resolve(showFile);
      return isOurs && typeof text === 'string' ? text : undefined;
    } catch {
      return undefined;
    }
  }

  /** The newest is kept; one after the other. */
  keep(showFile: string, text: string): void {
    const { folder } = this;
    if (folder === undefined || text === this.#kept) return;
    this.#kept = text;
    const path = join(folder, FILE);
    const content = `${JSON.stringify({ lampwright: VERSION, file: resolve(showFile), text })}\n`;
    this.#saving = this.#saving
      .then(() => writeWhole(path, content))
      .catch(error => {
        this.#kept = undefined;
        this.onEvent({ kind: 'accepted-unsaved', file: path, reason: messageOf(error) });
      });
  }

  /** When the newest is on the disk, or could not be brought there. */
  settled(): Promise<void> {
    return this.#saving;
  }
}

const STALE_APART_S = 60;

/** While the show that was accepted last runs in place of its file: said each minute, until the file is mended. */
export class StaleShow {
  #saidS = Number.NEGATIVE_INFINITY;
  #problems: readonly string[] | undefined;

  /** @param problems of the file; undefined: it is the show that runs */
  constructor(problems: readonly string[] | undefined) {
    this.#problems = problems;
  }

  get problems(): readonly string[] | undefined {
    return this.#problems;
  }

  set problems(problems: readonly string[] | undefined) {
    this.#problems = problems;
    this.#saidS = Number.NEGATIVE_INFINITY;
  }

  /** One beat. @returns what is to be said now */
  due(nowS: number): readonly string[] | undefined {
    if (this.#problems === undefined || nowS - this.#saidS < STALE_APART_S) return undefined;
    this.#saidS = nowS;
    return this.#problems;
  }
}
