import { join, resolve } from 'node:path';
import { MAX_SHOW_BYTES } from '../show/parse.js';
import { type KeptEvent, KeptFile } from './kept-file.js';
import { readText } from './read-file.js';

const FILE = 'accepted-show.json';
const VERSION = 1;
/** JSON makes two characters of a line's end, and at most six of one that is rare in a show. */
const MOST_BYTES = 3 * MAX_SHOW_BYTES;

/**
 * The show that was accepted last, with its profiles, as the text that was read: where a restart finds it, should
 * its file be broken by then.
 */
export class AcceptedShow {
  readonly #file: KeptFile | undefined;

  /** @param folder undefined: kept nowhere */
  constructor(folder: string | undefined, onEvent: (event: KeptEvent) => void) {
    if (folder === undefined) return;
    const file = join(folder, FILE);
    const what = 'accepted-show';
    this.#file = new KeptFile({ what, file, sparesOthers: false, mostBytes: MOST_BYTES, onEvent });
  }

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

  /** The newest is kept, and written again where its folder has come back without it. */
  keep(showFile: string, text: string): void {
    this.#file?.keep(`${JSON.stringify({ lampwright: VERSION, file: resolve(showFile), text })}\n`);
  }

  /** When the newest is on the disk, or could not be brought there; it is not looked after any more. */
  async end(): Promise<void> {
    await this.#file?.end();
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
