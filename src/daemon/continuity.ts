import { monotonicS } from './clock.js';
import { type IdentityOptions, installationIdentity } from './identity.js';
import { type CountedStream, type FoundLook, LastLook, type LookKey } from './last-look.js';

export interface ContinuityOptions extends IdentityOptions {
  /** A folder in memory; undefined: nothing is kept for a supervisor that is started after a crash. */
  readonly runtimeFolder: string | undefined;
}

/** What makes of this supervisor and one that has died just now one source: identity, numbers, and light. */
export class Continuity {
  #found: FoundLook | undefined;
  #identity: Uint8Array | undefined;
  #look: LastLook | undefined;

  constructor(private readonly options: ContinuityOptions) {}

  /** Looks for what one that has died has left. Once, before anything is sent. */
  find(key: Omit<LookKey, 'standby'>): FoundLook | undefined {
    const { runtimeFolder, standby } = this.options;
    if (runtimeFolder !== undefined) {
      this.#found = LastLook.read(runtimeFolder, { ...key, standby }, monotonicS());
    }
    return this.#found;
  }

  /** Of this installation; what has been sent with another this instant goes on with that. */
  get cid(): Uint8Array {
    this.#identity ??= this.#found?.cid ?? installationIdentity(this.options);
    return this.#identity;
  }

  /** From now on what is sent is kept as of this show. */
  keep(key: Omit<LookKey, 'standby'>, streams: readonly CountedStream[]): void {
    const { runtimeFolder, standby } = this.options;
    this.#look?.close();
    if (runtimeFolder === undefined) return;
    this.#look = LastLook.open(runtimeFolder, { ...key, standby, cid: this.cid, streams });
  }

  write(levels: Uint8Array, nowS: number, losingForS: number): void {
    this.#look?.write(levels, nowS, losingForS);
  }

  /** A clean end leaves nothing to go on from. */
  end(): void {
    this.#look?.end();
  }
}
