import { statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { readToken } from './token.js';

/** What counts from now on. */
export interface TokenNow {
  /** undefined: nobody may act. */
  readonly token: string | undefined;
  /** What somebody should know for as long as it is so, in a sentence without its end. */
  readonly trouble: string | undefined;
}

/** The token of a state folder while a panel runs: whoever removes or spoils its file has taken it back. */
export class TokenWatch {
  #now: TokenNow;
  readonly #folderId: string | undefined;
  /** A disk of its own stands there. */
  readonly #wasMounted: boolean;

  constructor(
    private readonly folder: string,
    token: string,
  ) {
    this.#now = { token, trouble: undefined };
    this.#folderId = idOf(folder);
    this.#wasMounted = isMounted(folder);
  }

  /** @returns what counts now, where that is something else than before */
  look(): TokenNow | undefined {
    const now = this.#read();
    const before = this.#now;
    if (now.token === before.token && now.trouble === before.trouble) return undefined;
    this.#now = now;
    return now;
  }

  #read(): TokenNow {
    const { folder } = this;
    const { token } = this.#now;
    const read = readToken(folder);
    if (read.ok) return { token: read.token, trouble: undefined };
    // A disk that has left takes its folder with it. Nobody has taken the token back.
    const id = idOf(folder);
    if (read.fault === undefined && (id === undefined || this.#isDiskGone())) {
      return { token, trouble: undefined };
    }
    if (read.isUnread) return { token, trouble: `${read.fault}. The old token still works` };
    const gone =
      id === this.#folderId
        ? `the token in ${folder} was removed`
        : `${folder} is another folder now, without a token`;
    const what = read.fault ?? gone;
    const remedy = `lampwright panel ${folder} --new-token makes another`;
    return { token: undefined, trouble: `${what}, so nobody can act from a page: ${remedy}` };
  }

  /** The empty place where it belongs is left. */
  #isDiskGone(): boolean {
    return this.#wasMounted && !isMounted(this.folder);
  }
}

function idOf(folder: string): string | undefined {
  try {
    const { dev, ino } = statSync(folder);
    return `${dev} ${ino}`;
  } catch {
    return undefined;
  }
}

function isMounted(folder: string): boolean {
  try {
    return statSync(folder).dev !== statSync(dirname(resolve(folder))).dev;
  } catch {
    return false;
  }
}
