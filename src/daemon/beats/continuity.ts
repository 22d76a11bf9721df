import { join } from 'node:path';
import {
  IDENTITY_FILE,
  type IdentityOptions,
  installationIdentity,
  MOST_IDENTITY_BYTES,
  seedOf,
} from '../files/identity.js';
import { type KeptEvent, KeptFile, KeptNews, LOOK_EVERY_MS } from '../files/kept-file.js';
import {
  type CountedStream,
  type FoundLook,
  LastLook,
  type LookOptions,
} from '../files/last-look.js';
import { monotonicS } from '../machine/clock.js';

export interface ContinuityOptions extends IdentityOptions {
  /** A folder in memory; undefined: nothing is kept for a supervisor that is started after a crash. */
  readonly runtimeFolder: string | undefined;
  onEvent(event: KeptEvent): void;
}

/** What makes this supervisor and one that has just died a single source: identity, sequence numbers, and light. */
export class Continuity {
  #found: FoundLook | undefined;
  #identity: Uint8Array | undefined;
  #identityFile: KeptFile | undefined;
  #look: LastLook | undefined;
  #lookOptions: LookOptions | undefined;
  #timer: NodeJS.Timeout | undefined;
  readonly #news: KeptNews;

  constructor(private readonly options: ContinuityOptions) {
    const { runtimeFolder = '', onEvent } = options;
    this.#news = new KeptNews('last-look', LastLook.fileIn(runtimeFolder), onEvent);
  }

  /** Looks for what a dead supervisor has left. Once, before anything is sent. */
  find(): FoundLook | undefined {
    const { runtimeFolder, standby } = this.options;
    if (runtimeFolder !== undefined) {
      this.#found = LastLook.read(runtimeFolder, { standby }, monotonicS());
    }
    return this.#found;
  }

  /** The identity of this installation; streams that were just sent with another one keep that. */
  get cid(): Uint8Array {
    this.#identity ??= this.#identify();
    return this.#identity;
  }

  /** From now on what is sent is kept. @param universes of the show, in the order of their levels */
  keep(universes: readonly number[], streams: readonly CountedStream[], hasGround = false): void {
    const { runtimeFolder, standby } = this.options;
    this.#look?.close();
    if (runtimeFolder === undefined) return;
    this.#lookOptions = { standby, cid: this.cid, universes, streams, hasGround };
    this.#look = undefined;
    this.lookAfter();
    this.#timer ??= setInterval(() => this.lookAfter(), LOOK_EVERY_MS).unref();
  }

  write(levels: Uint8Array, nowS: number, losingForS: number, ground?: Uint8Array): void {
    this.#look?.write(levels, nowS, losingForS, ground);
  }

  /** Opens the file again if it vanished with its folder, or could not be written. */
  lookAfter(): void {
    const { runtimeFolder } = this.options;
    if (runtimeFolder === undefined || this.#lookOptions === undefined) return;
    const before = this.#look;
    if (before?.isInPlace === true) {
      if (before.isWritten) this.#news.tell(undefined);
      return;
    }
    before?.close();
    const opened = LastLook.open(runtimeFolder, this.#lookOptions);
    this.#look = opened.ok ? opened.look : undefined;
    // On a full disk a file can be opened and not written: it is kept once something is in it.
    const fault = opened.ok ? before?.fault : opened.reason;
    if (fault !== undefined) this.#news.tell(fault);
  }

  /** A clean end leaves nothing to go on from. */
  end(): void {
    clearInterval(this.#timer);
    void this.#identityFile?.end();
    this.#look?.end();
  }

  #identify(): Uint8Array {
    const { stateFolder, standby, onEvent } = this.options;
    const found = this.#found?.cid;
    const { cid, seed, fault } =
      found === undefined
        ? installationIdentity(this.options)
        : { cid: found, seed: seedOf(found, standby), fault: undefined };
    if (stateFolder === undefined || seed === undefined) return cid;
    const file = join(stateFolder, IDENTITY_FILE);
    this.#identityFile = new KeptFile({
      what: 'identity',
      file,
      sparesOthers: true,
      mostBytes: MOST_IDENTITY_BYTES,
      onEvent,
    });
    this.#identityFile.expect(`${seed}\n`, fault);
    return cid;
  }
}
