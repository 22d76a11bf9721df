/** How often, and for how long, a head that would have been lit was dark for a keep-out. */
export interface KeepOutTime {
  /** Label of the head. */
  readonly fixture: string;
  readonly keepOut: string;
  readonly times: number;
  readonly forS: number;
  readonly longestS: number;
}

interface Tally {
  times: number;
  forS: number;
  longestS: number;
}

/** Adds up the engine's events about heads that go dark before their beam touches a keep-out. */
export class KeepOutTimes {
  /** By head and keep-out. */
  readonly #tallies = new Map<string, Map<string, Tally>>();
  /** Heads that are dark now: for which keep-out, and since when. */
  readonly #dark = new Map<string, { readonly keepOut: string; readonly sinceS: number }>();

  /** @param fixture label of the head @param barred whether it goes dark, or is clear again */
  hear(
    fixture: string,
    { keepOut, barred }: { readonly keepOut: string; readonly barred: boolean },
    nowS: number,
  ): void {
    this.#end(fixture, nowS);
    if (barred) this.#dark.set(fixture, { keepOut, sinceS: nowS });
  }

  /** An engine that has gone leaves all light to the safe look. */
  engineEnds(nowS: number): void {
    for (const fixture of [...this.#dark.keys()]) this.#end(fixture, nowS);
  }

  /** All of them, the longest in total first. @param endS end of the show, for heads that are still dark */
  all(endS: number): KeepOutTime[] {
    this.engineEnds(endS);
    return [...this.#tallies]
      .flatMap(([fixture, by]) =>
        [...by].map(([keepOut, tally]): KeepOutTime => ({ fixture, keepOut, ...tally })),
      )
      .sort((a, b) => b.forS - a.forS);
  }

  #end(fixture: string, nowS: number): void {
    const dark = this.#dark.get(fixture);
    if (dark === undefined) return;
    this.#dark.delete(fixture);
    const forS = Math.max(0, nowS - dark.sinceS);
    const by = this.#tallies.get(fixture) ?? new Map<string, Tally>();
    const before = by.get(dark.keepOut) ?? { times: 0, forS: 0, longestS: 0 };
    this.#tallies.set(fixture, by);
    by.set(dark.keepOut, {
      times: before.times + 1,
      forS: before.forS + forS,
      longestS: Math.max(before.longestS, forS),
    });
  }
}
