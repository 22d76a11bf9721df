import { type Engine, engineInParts } from '../../engine/engine.js';
import { type Pairs, pairsInParts } from '../../engine/take-over/pairs.js';
import { rehearseInParts } from '../../engine/take-over/take-over.js';
import { type EngineView, viewOf } from '../../engine/view.js';
import { monotonicS } from '../machine/clock.js';
import { collectYoung, youngBytes } from '../machine/young.js';
import type { ShowOnPipe } from './engine-orders.js';
import { packedOf, unpackInParts } from './packed-show.js';

/** A part takes no longer on a machine that is not busy, seconds: one begins where so much is left until the next tick. */
const LONGEST_PART_S = 0.008;
/** To take over is one part, and longer than the others. */
const TAKE_OVER_S = 0.015;
/**
 * After so many ticks that left less, some begin all the same, for so long, seconds: the next tick is late by a part of
 * its period.
 */
const TICKS_WITHOUT = 2;
const ALL_THE_SAME_S = 0.006;
/**
 * Nearly all that the parts make stays, and the collector copies what stays: left to itself it came when there were 32 MiB
 * of it, for 30 ms, whatever was due. Of so much it takes about as long as a part.
 */
const MOST_YOUNG_BYTES = 4 * 1024 * 1024;

/** What the parts made, as the collector sees it. */
const YOUNG = { bytes: youngBytes, collect: collectYoung } as const;

/** With all that it has to know to take over. */
export interface MadeEngine {
  readonly engine: Engine;
  readonly pairs: Pairs;
  readonly view: EngineView;
}

/** An engine of another show, made in parts between the ticks of the one that runs. */
export class NextEngine {
  readonly #parts: Generator<undefined, MadeEngine>;
  #made: MadeEngine | undefined;
  /** Ticks one after the other that left no time. */
  #without = 0;
  #hasCollected = false;

  constructor(
    readonly show: ShowOnPipe,
    running: Engine,
    private readonly clock = monotonicS,
    private readonly young: typeof YOUNG = YOUNG,
  ) {
    this.#parts = make(show.packed, running);
  }

  /**
   * @param leftS until the next tick
   * @returns the engine once it is made, and there is time to hand over to it; after `no time` ask in the next tick
   */
  work(leftS: number): MadeEngine | 'not yet' | 'no time' {
    const hasTime = leftS >= (this.#made === undefined ? LONGEST_PART_S : TAKE_OVER_S);
    if (!hasTime && this.#without < TICKS_WITHOUT) {
      this.#without += 1;
      return 'no time';
    }
    this.#without = 0;
    this.#hasCollected = !this.#hasCollected && this.young.bytes() > MOST_YOUNG_BYTES;
    if (this.#hasCollected) {
      this.young.collect();
      return 'not yet';
    }
    if (this.#made !== undefined) return this.#made;
    const untilS = this.clock() + (hasTime ? 0 : ALL_THE_SAME_S);
    do {
      const { done, value } = this.#parts.next();
      if (done === true) this.#made = value;
    } while (this.#made === undefined && this.clock() < untilS);
    return 'not yet';
  }
}

function* make(packed: readonly string[], running: Engine): Generator<undefined, MadeEngine> {
  const show = yield* unpackInParts(packedOf(packed));
  // It is thrown away.
  const other = yield* engineInParts(show);
  yield* rehearseInParts(other, running, yield* pairsInParts(other, running));
  const engine = yield* engineInParts(show);
  const pairs = yield* pairsInParts(engine, running);
  yield;
  return { engine, pairs, view: viewOf(engine) };
}
