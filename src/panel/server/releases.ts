/** Older ones are of no account, seconds: what was pressed before them is too late by itself. */
const COUNTS_FOR_S = 1;
/** The longest `enableTimeout` of a show, seconds: nobody holds by what was sent before. */
const HOLDS_FOR_S = 5;

/**
 * Who has let go of which enable, and when. Networks and proxies deliver a hold after the release that followed it: what the hand
 * had pressed before it let go must not bring the output on again.
 */
export class Releases {
  /** Monotonic seconds, the oldest first. */
  readonly #atS = new Map<string, number>();
  /** What is held, each time it is repeated put at the end. */
  readonly #held = new Map<string, { hand: string; hazard: string; atS: number }>();

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
    this.#held.delete(key);
  }

  /** This hand holds, or repeats it. */
  hold(hand: string, hazard: string): void {
    const atS = this.nowS();
    for (const [key, one] of this.#held) {
      if (atS - one.atS <= HOLDS_FOR_S) break;
      this.#held.delete(key);
    }
    const key = keyOf(hand, hazard);
    this.#held.delete(key);
    this.#held.set(key, { hand, hazard, atS });
  }

  /** What this hand holds. @param timeoutS an enable that is not repeated within this is released */
  heldBy(hand: string, timeoutS = HOLDS_FOR_S): string[] {
    const sinceS = this.nowS() - timeoutS;
    return [...this.#held.values()]
      .filter(one => one.hand === hand && one.atS >= sinceS)
      .map(({ hazard }) => hazard);
  }

  /** Whether the hand has let go since it saw what came here so long ago, seconds. */
  hasLetGo(hand: string, hazard: string, seenForS: number): boolean {
    const seenS = this.nowS() - seenForS;
    return [keyOf(hand, hazard), keyOf(hand)].some(key => (this.#atS.get(key) ?? -1) >= seenS);
  }

  /** Whether the hand has gone away since then, monotonic seconds. */
  hasLeft(hand: string, sinceS: number): boolean {
    return (this.#atS.get(keyOf(hand)) ?? -1) >= sinceS;
  }
}

function keyOf(hand: string, hazard?: string): string {
  return hazard === undefined ? hand : `${hand} ${hazard}`;
}
