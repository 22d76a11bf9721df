import { type CutOff, LEAVES, STAYS } from '../../safety/output-limiter.js';

/** A shorter outage is caught up with within the limits: at walking pace no head has far to go. */
export const LEAST_OUTAGE_S = 0.5;

/** Which universes could not be sent for a while, and which of them are back. */
export class Outages {
  /** Since when, monotonic seconds; NaN while it leaves. */
  readonly #sinceS: Float64Array;
  readonly #returned: Uint8Array;
  readonly #held: Uint8Array;
  #count = 0;
  #forS = 0;

  constructor(private readonly universeCount: number) {
    this.#sinceS = new Float64Array(universeCount).fill(Number.NaN);
    this.#returned = new Uint8Array(universeCount);
    this.#held = new Uint8Array(universeCount);
  }

  /** One that was out is back, and stays at what it last sent until it is asked for. */
  get hasReturned(): boolean {
    return this.#count > 0;
  }

  /** Nothing of it left in the last beat. @param universe by index */
  readonly isOut = (universe: number): boolean => !Number.isNaN(this.#sinceS[universe] as number);

  /** Nothing of it left in the last beat, or it is back and stays at what it last sent. @param universe by index */
  readonly isAway = (universe: number): boolean =>
    this.isOut(universe) || this.#returned[universe] === 1;

  /** Once a beat. @returns what may leave: a universe that was out for long not yet */
  look(cutOff: CutOff, nowS: number): CutOff {
    const { universes, sent } = cutOff;
    for (let i = 0; i < this.universeCount; i++) {
      const way = universes[i] as number;
      const sinceS = this.#sinceS[i] as number;
      if (way !== LEAVES) {
        if (Number.isNaN(sinceS)) this.#sinceS[i] = nowS;
        if (this.#returned[i] === 1) this.#mark(i, 0);
      } else if (!Number.isNaN(sinceS)) {
        this.#sinceS[i] = Number.NaN;
        if (nowS - sinceS >= LEAST_OUTAGE_S) {
          this.#mark(i, 1);
          this.#forS = nowS - sinceS;
        }
      }
      this.#held[i] = way === LEAVES && this.#returned[i] === 1 ? STAYS : way;
    }
    return { universes: this.#held, sent };
  }

  /** Those that are back since this was last asked, by index, and for how long the last of them was out, seconds. */
  take(): { readonly universes: readonly number[]; readonly forS: number } {
    const universes = [...this.#returned.keys()].filter(i => this.#returned[i] === 1);
    this.#returned.fill(0);
    this.#count = 0;
    return { universes, forS: this.#forS };
  }

  #mark(universe: number, returned: 0 | 1): void {
    this.#count += returned - (this.#returned[universe] as number);
    this.#returned[universe] = returned;
  }
}
