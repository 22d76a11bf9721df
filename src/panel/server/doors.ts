import { createHash, timingSafeEqual } from 'node:crypto';
import { isIP } from 'node:net';
import type { Refusal } from '../../live/turned-away.js';

/** What of a request decides whether it is let in. */
export interface Knock {
  readonly method: string;
  /** Address of the other end, and the one at which it arrived. */
  readonly from: string;
  readonly at: string;
  readonly host: string | undefined;
  readonly origin: string | undefined;
  /** What a browser says of where a request comes from (Fetch Metadata). */
  readonly site: string | undefined;
  /** A proxy passes it on for somebody else. */
  readonly isForwarded: boolean;
  readonly authorization: string | undefined;
}

export interface Verdict {
  readonly status: 401 | 403 | 421 | 429;
  readonly refusal: Refusal;
  readonly text: string;
}

/** Wrong tokens within a minute, of one address and of all, after which further wrong ones count as too many. */
const MOST_TRIES = 10;
const MOST_TRIES_OF_ALL = 100;
const TRIES_FOR_S = 60;
/** So many addresses are told apart. */
const MOST_ADDRESSES = 1024;

/** Who may look, and who may act. */
export class Doors {
  #token: Buffer | undefined;
  /** When wrong tokens came, by address; under '' those of all. */
  readonly #tries = new Map<string, number[]>();

  /** @param hosts names by which the panel is called, beside the machine's addresses */
  constructor(
    token: string,
    private readonly hosts: readonly string[],
    private readonly nowS: () => number,
  ) {
    this.#token = digest(token);
  }

  /** Another token counts from now on; undefined: none does. */
  take(token: string | undefined): void {
    this.#token = token === undefined ? undefined : digest(token);
  }

  /** The page itself has nothing of the show in it. */
  page(knock: Knock): Verdict | undefined {
    return this.#strange(knock);
  }

  /** What they may do, at one try. `fault`: what is wrong with the token that they sent. */
  entry(knock: Knock): {
    readonly mayLook: boolean;
    readonly mayAct: boolean;
    readonly fault: Verdict | undefined;
  } {
    const fault = this.#ask(knock);
    const mayAct = fault === undefined;
    return {
      mayLook: mayAct || !this.needsToken(knock),
      mayAct,
      fault: knock.authorization === undefined ? undefined : fault,
    };
  }

  /** @returns why not; undefined where they may look */
  look(knock: Knock): Verdict | undefined {
    return (
      this.#strange(knock) ??
      this.#foreign(knock) ??
      (this.needsToken(knock) ? this.#ask(knock) : undefined)
    );
  }

  /** @returns why not; undefined where they may act */
  act(knock: Knock): Verdict | undefined {
    return this.#strange(knock) ?? this.#foreign(knock) ?? this.#ask(knock);
  }

  /** From this machine itself, and not by way of a proxy, anybody may look. */
  needsToken({ from, isForwarded }: Knock): boolean {
    return isForwarded || !isLoopback(from);
  }

  /** A page from elsewhere, or a name that was pointed here. */
  #strange({ host, origin, at, from }: Knock): Verdict | undefined {
    if (host === undefined || !this.#isOurs(host, at, from)) {
      const text = `this panel is not called ${host ?? 'nothing'}: use an address of this machine, or start it with --panel-host NAME`;
      return { status: 421, refusal: 'host', text };
    }
    const isForeign = origin !== undefined && hostOf(origin) !== host.toLowerCase();
    return isForeign ? FOREIGN : undefined;
  }

  /** A page elsewhere may link to ours; it gets, and does, nothing else. */
  #foreign({ site }: Knock): Verdict | undefined {
    return site === undefined || site === 'same-origin' || site === 'none' ? undefined : FOREIGN;
  }

  #isOurs(host: string, at: string, from: string): boolean {
    const name = withoutPort(host);
    if (name === 'localhost') return isLoopback(from) || this.hosts.includes(name);
    if (isIP(plain(name)) !== 0) return plain(name) === plain(at);
    return this.hosts.includes(name);
  }

  #ask({ authorization, from }: Knock): Verdict | undefined {
    const said = /^Bearer +(.{1,256})$/i.exec(authorization ?? '')?.[1];
    if (said === undefined) {
      const text = 'this needs the token: lampwright panel STATE_DIR prints it';
      return { status: 401, refusal: 'token missing', text };
    }
    if (this.#token === undefined) {
      const text =
        'the token was revoked on the show machine: lampwright panel STATE_DIR --new-token makes another';
      return { status: 401, refusal: 'token revoked', text };
    }
    // First of all: wrong ones, whoever sends them, must not keep the right one out.
    if (timingSafeEqual(digest(said), this.#token)) return undefined;
    const address = plain(from);
    if (this.#areTooMany(address)) {
      const text = 'that is not the token, and too many wrong ones have come within a minute';
      return { status: 429, refusal: 'too many tries', text };
    }
    this.#note(address);
    this.#note('');
    return { status: 401, refusal: 'token wrong', text: 'that is not the token' };
  }

  #areTooMany(address: string): boolean {
    return this.#count(address) >= MOST_TRIES || this.#count('') >= MOST_TRIES_OF_ALL;
  }

  #count(address: string): number {
    const sinceS = this.nowS() - TRIES_FOR_S;
    const recent = (this.#tries.get(address) ?? []).filter(atS => atS > sinceS);
    if (recent.length === 0) this.#tries.delete(address);
    else this.#tries.set(address, recent);
    return recent.length;
  }

  #note(address: string): void {
    if (this.#tries.size > MOST_ADDRESSES) this.#tries.clear();
    this.#tries.set(address, [...(this.#tries.get(address) ?? []), this.nowS()]);
  }
}

const FOREIGN: Verdict = {
  status: 403,
  refusal: 'origin',
  text: 'not from a page of another origin',
};

/** Of equal length whatever was said, so that the comparison takes as long. */
function digest(token: string): Buffer {
  return createHash('sha256').update(token).digest();
}

export function isLoopback(address: string): boolean {
  const bare = plain(address);
  return bare === '::1' || /^127\./.test(bare);
}

/** Without brackets and zone, and IPv4 as IPv4. */
export function plain(address: string): string {
  return address.replace(/^\[|\]$|%.*$/g, '').replace(/^::ffff:/i, '');
}

function withoutPort(host: string): string {
  return host.toLowerCase().replace(/:\d+$/, '');
}

function hostOf(origin: string): string | undefined {
  try {
    return new URL(origin).host.toLowerCase();
  } catch {
    return undefined;
  }
}
