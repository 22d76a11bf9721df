import { SLOTS_PER_UNIVERSE } from '../../show/model.js';

/** E1.31 6.7.1, E131_NETWORK_DATA_LOSS_TIMEOUT: a source silent for so long is gone. */
export const SOURCE_GONE_AFTER_S = 2.5;

/** The other machine of a pair, as heard on the lighting network. */
export class Partner {
  /** All universes of the show, 512 each: what it sent last. */
  readonly levels: Uint8Array;
  readonly #heardS: Float64Array;
  #lastS = Number.NEGATIVE_INFINITY;

  constructor(universeCount: number) {
    this.levels = new Uint8Array(universeCount * SLOTS_PER_UNIVERSE);
    this.#heardS = new Float64Array(universeCount).fill(Number.NEGATIVE_INFINITY);
  }

  /** @param universe index into the show's */
  hear(universe: number, slots: Uint8Array, nowS: number): void {
    if (universe < 0 || universe >= this.#heardS.length) return;
    this.#lastS = nowS;
    this.#heardS[universe] = nowS;
    this.levels.set(slots.subarray(0, SLOTS_PER_UNIVERSE), universe * SLOTS_PER_UNIVERSE);
  }

  /** It has said that it ends. */
  end(): void {
    this.#lastS = Number.NEGATIVE_INFINITY;
    this.#heardS.fill(Number.NEGATIVE_INFINITY);
  }

  isHeard(nowS: number): boolean {
    return nowS - this.#lastS <= SOURCE_GONE_AFTER_S;
  }

  /** Whether its levels of this universe are of now. */
  knows(universe: number, nowS: number): boolean {
    return nowS - (this.#heardS[universe] ?? Number.NEGATIVE_INFINITY) <= SOURCE_GONE_AFTER_S;
  }
}
