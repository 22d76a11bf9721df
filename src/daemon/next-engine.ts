import { type Engine, engineInParts } from '../engine/engine.js';
import type { NextShow } from './engine-orders.js';
import { unpackInParts } from './packed-show.js';

/** A part takes no longer, seconds: one begins where so much is left until the next tick. */
const LONGEST_PART_S = 0.012;

/** An engine of another show, made in parts between the ticks of the one that runs. */
export class NextEngine {
  readonly #parts: Generator<undefined, Engine>;
  #engine: Engine | undefined;

  constructor(readonly show: NextShow) {
    this.#parts = engineOf(show.packed);
  }

  /**
   * @param leftS until the next tick
   * @returns the engine once it is made, and there is time to hand over to it
   */
  work(leftS: number): Engine | 'not yet' | 'no time' {
    if (leftS < LONGEST_PART_S) return 'no time';
    if (this.#engine !== undefined) return this.#engine;
    const { done, value } = this.#parts.next();
    if (done === true) this.#engine = value;
    return 'not yet';
  }
}

function* engineOf(packed: readonly string[]): Generator<undefined, Engine> {
  const show = yield* unpackInParts(packed.map(part => Buffer.from(part, 'base64')));
  return yield* engineInParts(show);
}
