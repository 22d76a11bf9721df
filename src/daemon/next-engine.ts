import { type Engine, engineInParts } from '../engine/engine.js';
import { type Pairs, pairsInParts } from '../engine/take-over-pairs.js';
import type { NextShow } from './engine-orders.js';
import { unpackInParts } from './packed-show.js';

/** A part takes no longer, seconds: one begins where so much is left until the next tick. */
const LONGEST_PART_S = 0.012;
/** After so many ticks that left less, one begins all the same: the next tick is late by a part of its period. */
const TICKS_WITHOUT = 2;

/** With all that it has to know to take over. */
export interface MadeEngine {
  readonly engine: Engine;
  readonly pairs: Pairs;
}

/** An engine of another show, made in parts between the ticks of the one that runs. */
export class NextEngine {
  readonly #parts: Generator<undefined, MadeEngine>;
  #made: MadeEngine | undefined;
  /** Ticks one after the other that left no time. */
  #without = 0;

  constructor(
    readonly show: NextShow,
    running: Engine,
  ) {
    this.#parts = make(show.packed, running);
  }

  /**
   * @param leftS until the next tick
   * @returns the engine once it is made, and there is time to hand over to it; after `no time` ask in the next tick
   */
  work(leftS: number): MadeEngine | 'not yet' | 'no time' {
    if (leftS < LONGEST_PART_S && this.#without < TICKS_WITHOUT) {
      this.#without += 1;
      return 'no time';
    }
    this.#without = 0;
    if (this.#made !== undefined) return this.#made;
    const { done, value } = this.#parts.next();
    if (done === true) this.#made = value;
    return 'not yet';
  }
}

function* make(packed: readonly string[], running: Engine): Generator<undefined, MadeEngine> {
  const show = yield* unpackInParts(packed.map(part => Buffer.from(part, 'base64')));
  const engine = yield* engineInParts(show);
  const pairs = yield* pairsInParts(engine, running);
  return { engine, pairs };
}
