import { createHash } from 'node:crypto';
import { join, resolve } from 'node:path';
import { MAX_SHOW_BYTES } from '../../show/parse.js';
import { type KeptEvent, KeptFile } from './kept-file.js';
import { readText } from './read-file.js';

const FILE = 'accepted-show.json';
const VERSION = 1;
/** JSON makes two characters of a line's end, and at most six of one that is rare in a show. */
const MOST_BYTES = 3 * MAX_SHOW_BYTES;
const MOST_REFUSALS = 16;
const MOST_PROBLEMS = 8;
const MOST_PROBLEM_CHARACTERS = 1000;

/** A text that is a valid show, but that a reload refused, for instance because of a missing interface. */
interface Refusal {
  /** Of the text, as hexadecimal. */
  readonly sha256: string;
  readonly problems: readonly string[];
}

/** What is kept of one show file. */
export interface Accepted {
  readonly text: string;
  /** Since that text was accepted. */
  readonly refused: readonly Refusal[];
}

/**
 * The show that was accepted last, with its profiles, as the text that was read: a restart uses it if the show file
 * is broken, or holds what a reload has refused.
 */
export class AcceptedShow {
  readonly #file: KeptFile | undefined;
  #accepted: Accepted | undefined;

  /** @param folder undefined: kept nowhere */
  constructor(
    private readonly folder: string | undefined,
    onEvent: (event: KeptEvent) => void,
  ) {
    if (folder === undefined) return;
    const file = join(folder, FILE);
    const what = 'accepted-show';
    this.#file = new KeptFile({ what, file, sparesOthers: false, mostBytes: MOST_BYTES, onEvent });
  }

  /** What was accepted last from this file, and refused since; undefined where there is none. */
  static read(folder: string, showFile: string): Accepted | undefined {
    const read = readText(join(folder, FILE), MOST_BYTES);
    if (!read.ok) return undefined;
    try {
      const { lampwright, file, text, refused } = Object(JSON.parse(read.text)) as Record<
        string,
        unknown
      >;
      const isOurs = lampwright === VERSION && file === resolve(showFile);
      if (!isOurs || typeof text !== 'string') return undefined;
      return { text, refused: Array.isArray(refused) ? refused.filter(isRefusal) : [] };
    } catch {
      return undefined;
    }
  }

  /** The newest is kept, and written again where its folder has come back without it. */
  keep(showFile: string, text: string): void {
    if (this.folder === undefined) return;
    this.#accepted ??= AcceptedShow.read(this.folder, showFile);
    const before = this.#accepted?.text === text ? this.#accepted.refused : [];
    this.#write(showFile, { text, refused: before });
  }

  /** A restart with this text runs the accepted show: whoever was told so must not find the stage dark. */
  refuse(showFile: string, text: string, problems: readonly string[]): void {
    const accepted = this.#accepted;
    if (accepted === undefined || accepted.text === text) return;
    const sha256 = sha256Of(text);
    const others = accepted.refused.filter(one => one.sha256 !== sha256);
    const words = problems
      .slice(0, MOST_PROBLEMS)
      .map(problem => problem.slice(0, MOST_PROBLEM_CHARACTERS));
    const refused = [...others, { sha256, problems: words }].slice(-MOST_REFUSALS);
    this.#write(showFile, { ...accepted, refused });
  }

  #write(showFile: string, accepted: Accepted): void {
    this.#accepted = accepted;
    const content = { lampwright: VERSION, file: resolve(showFile), ...accepted };
    this.#file?.keep(`${JSON.stringify(content)}\n`);
  }

  /** When the newest is on the disk, or could not be brought there; it is not looked after any more. */
  async end(): Promise<void> {
    await this.#file?.end();
  }
}

/** Why a reload refused this very text; undefined: none has. */
export function refusalOf({ refused }: Accepted, text: string): readonly string[] | undefined {
  const sha256 = sha256Of(text);
  return refused.find(one => one.sha256 === sha256)?.problems;
}

function sha256Of(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}

function isRefusal(value: unknown): value is Refusal {
  const { sha256, problems } = Object(value) as Record<string, unknown>;
  const areWords = Array.isArray(problems) && problems.every(one => typeof one === 'string');
  return typeof sha256 === 'string' && areWords;
}

const STALE_APART_S = 60;

/** While the show that was accepted last runs in place of its file: said each minute, until the file is fixed. */
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
