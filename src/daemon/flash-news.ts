/** Light that is held back again so soon is told of together, seconds. */
const FLASHES_APART_S = 10;
/** What is held for so long is told of before it ends, seconds. */
const LONGEST_S = 1;

export interface HeldFlashes {
  readonly fixtures: readonly string[];
  /** How often light was held back since it was last told. */
  readonly times: number;
  /** The longest of these, from the moment when it was to rise until none was held, seconds. */
  readonly longestS: number;
}

/** News of light that came up late for the flash limit: once a series, not once a beat. */
export class FlashNews {
  #toldS = Number.NEGATIVE_INFINITY;
  #sinceS: number | undefined;
  #most = 0;
  #times = 0;
  #longestS = 0;
  readonly #fixtures = new Set<string>();
  /** Of the hold in hand: as it rises nothing is held down any more, and it still comes late. */
  readonly #inHand = new Set<string>();

  /**
   * @param held lamps in this beat
   * @param fixtures those they are of; asked only when more are held than before
   * @returns what is to be told now
   */
  beat(held: number, nowS: number, fixtures: () => readonly string[]): HeldFlashes | undefined {
    if (held > this.#most) for (const one of fixtures()) this.#inHand.add(one);
    for (const one of this.#inHand) this.#fixtures.add(one);
    if (held === 0) this.#inHand.clear();
    this.#most = held === 0 ? 0 : Math.max(held, this.#most);
    if (held > 0) this.#sinceS ??= nowS;
    if (this.#sinceS !== undefined) {
      const forS = nowS - this.#sinceS;
      if (held > 0 && forS < LONGEST_S) return undefined;
      this.#times += 1;
      this.#longestS = Math.max(this.#longestS, forS);
      this.#sinceS = held > 0 ? nowS : undefined;
    }
    if (this.#times === 0 || nowS - this.#toldS < FLASHES_APART_S) return undefined;
    const news = {
      fixtures: [...this.#fixtures],
      times: this.#times,
      longestS: this.#longestS,
    };
    this.#toldS = nowS;
    this.#times = 0;
    this.#longestS = 0;
    this.#fixtures.clear();
    this.#most = 0;
    return news;
  }
}
