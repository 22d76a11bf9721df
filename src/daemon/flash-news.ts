/** Flashes held back after so long a rest are said anew. */
const FLASHES_APART_S = 10;

/** News of flashes that are held back: once at the start of each series, not once a beat. */
export class FlashNews {
  #heldS = Number.NEGATIVE_INFINITY;

  /** @param held lamps in this beat @returns whether that is news */
  isNews(held: number, nowS: number): boolean {
    if (held === 0) return false;
    const isNew = nowS - this.#heldS > FLASHES_APART_S;
    this.#heldS = nowS;
    return isNew;
  }
}
