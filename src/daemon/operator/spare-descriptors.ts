import { closeSync, openSync } from 'node:fs';
import { devNull } from 'node:os';

/** Of the process, and of the whole machine. */
const NONE_LEFT: ReadonlySet<string> = new Set(['EMFILE', 'ENFILE']);
/** Stops that can be under way at once while no other descriptor is free. */
const SPARE = 4;

/** Takes a descriptor of the process and gives it back; a test may hand in others. */
export interface Descriptors {
  /** Throws where none is free. */
  take(): number;
  giveBack(descriptor: number): void;
}

const OF_THIS_PROCESS: Descriptors = {
  take: () => openSync(devNull, 'r'),
  giveBack: closeSync,
};

/**
 * Descriptors that are kept for those who connect. While a connection waits and no descriptor is free, libuv tries to
 * accept it again at once, for ever, and tells nobody: all the time of the event loop goes into it. So there is always
 * one free, or nobody listens.
 */
export class SpareDescriptors {
  readonly #kept: number[] = [];

  constructor(private readonly descriptors: Descriptors = OF_THIS_PROCESS) {
    while (this.#kept.length < SPARE && this.#keepOne());
  }

  /**
   * Leaves at least one free for whoever connects next, if need be one of those that are kept; with more free, one
   * more is kept.
   * @returns whether one is free
   */
  leavesOneFree(): boolean {
    if (this.areFree(2)) {
      if (this.#kept.length < SPARE) this.#keepOne();
      return true;
    }
    for (;;) {
      if (this.areFree(1)) return true;
      const spare = this.#kept.pop();
      if (spare === undefined) return false;
      this.descriptors.giveBack(spare);
    }
  }

  /** Whether so many could be taken now. */
  areFree(count: number): boolean {
    const taken: number[] = [];
    try {
      while (taken.length < count) taken.push(this.descriptors.take());
      return true;
    } catch (error) {
      // Any other error says nothing of descriptors.
      return !NONE_LEFT.has((error as NodeJS.ErrnoException).code ?? '');
    } finally {
      for (const descriptor of taken) this.descriptors.giveBack(descriptor);
    }
  }

  close(): void {
    for (const descriptor of this.#kept.splice(0)) this.descriptors.giveBack(descriptor);
  }

  #keepOne(): boolean {
    try {
      this.#kept.push(this.descriptors.take());
      return true;
    } catch {
      return false;
    }
  }
}
