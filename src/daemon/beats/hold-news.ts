import { HoldTimes } from '../../safety/hold-times.js';

/** Holds within this time of each other are reported together, seconds. */
const NEWS_APART_S = 10;
/** A hold this long is reported before it ends, seconds. */
const LONGEST_S = 1;

export interface HeldLight {
  readonly fixtures: readonly string[];
  /** How often light was held back since the last report; 0: what was reported then has come up. */
  readonly times: number;
  /** The longest that one fixture of these was late, seconds. */
  readonly longestS: number;
  /** Those of them that have not come up yet, and are later still; left out if all have. */
  readonly held?: readonly string[];
}

/** Reports light that was held back at the output, by the flash limit or a keep-out: once for each series, not for each beat. */
export class HoldNews {
  readonly #holds = new HoldTimes();
  /** Since when lamps have been held, without a break; and whether that has been counted. */
  #sinceS: number | undefined;
  #isCounted = false;
  /** Held fixtures that were told of before they came up. */
  readonly #early = new Set<string>();
  #toldS = Number.NEGATIVE_INFINITY;
  /** Of the next news. */
  #times = 0;
  #longestS = 0;
  readonly #fixtures = new Set<string>();

  /**
   * @param held lamps in this beat
   * @param fixtures those they are of; asked only while any are held
   * @returns what to report now
   */
  beat(held: number, nowS: number, fixtures: () => readonly string[]): HeldLight | undefined {
    if (held === 0 && this.#holds.isNone && this.#longestS === 0) return undefined;
    for (const [name, forS] of this.#holds.beat(held > 0 ? fixtures() : [], nowS)) {
      this.#early.delete(name);
      this.#late(name, forS);
    }
    for (const [name, sinceS] of this.#holds.inHand) {
      if (nowS - sinceS < LONGEST_S || this.#early.has(name)) continue;
      this.#early.add(name);
      this.#late(name, nowS - sinceS);
    }
    this.#count(nowS);
    if (this.#longestS === 0 || nowS - this.#toldS < NEWS_APART_S) return undefined;
    const stillHeld = [...this.#holds.inHand].map(([name]) => name);
    for (const name of stillHeld) this.#fixtures.add(name);
    const news = {
      ...(stillHeld.length > 0 ? { held: stillHeld } : {}),
      fixtures: [...this.#fixtures],
      times: this.#times,
      longestS: this.#longestS,
    };
    this.#toldS = nowS;
    this.#times = 0;
    this.#longestS = 0;
    this.#fixtures.clear();
    return news;
  }

  #late(fixture: string, forS: number): void {
    this.#fixtures.add(fixture);
    this.#longestS = Math.max(this.#longestS, forS);
  }

  /** Several at once are one time. */
  #count(nowS: number): void {
    if (!this.#holds.isNone) this.#sinceS ??= nowS;
    if (this.#sinceS === undefined) return;
    const isOver = this.#holds.isNone;
    // Lamps that have come up are reported, even if others are still held.
    const isNews = isOver || this.#longestS > 0 || nowS - this.#sinceS >= LONGEST_S;
    if (!this.#isCounted && isNews) {
      this.#times += 1;
      this.#isCounted = true;
    }
    if (!isOver) return;
    this.#sinceS = undefined;
    this.#isCounted = false;
  }
}
