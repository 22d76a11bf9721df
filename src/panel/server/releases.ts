/** Older ones are of no account, seconds: what was pressed before them is too late by itself. */
const COUNTS_FOR_S = 1;

/**
 * Who has let go of which enable, and when. Networks and proxies deliver a hold after the release that followed it: what the hand
 * had pressed before it let go must not bring the output on again.
 */
export class Releases {
  /** Monotonic seconds, the oldest first. */
  readonly #atS = new Map<string, number>();

  constructor(private readonly nowS: () => number) {}

  /** @param hand tells it from others @param hazard undefined: of all, as it went away */
  note(hand: string, hazard?: string): void {
    const nowS = this.nowS();
    for (const [key, atS] of this.#atS) {
      if (nowS - atS <= COUNTS_FOR_S) break;
      this.#atS.delete(key);
    }
    const key = keyOf(hand, hazard);
    // Put at the end: the first is the oldest.
    this.#atS.delete(key);
    this.#atS.set(key, nowS);
  }

  /** Whether the hand has let go since it saw what came here so long ago, seconds. */
  hasLetGo(hand: string, hazard: string, seenForS: number): boolean {
    const seenS = this.nowS() - seenForS;
    return [keyOf(hand, hazard), keyOf(hand)].some(key => (this.#atS.get(key) ?? -1) >= seenS);
  }
}

function keyOf(hand: string, hazard?: string): string {
  return hazard === undefined ? hand : `${hand} ${hazard}`;
}
