/** How long each lamp is held back; overlapping holds of several lamps are not added up. */
export class HoldTimes {
  readonly #sinceS = new Map<string, number>();

  get isNone(): boolean {
    return this.#sinceS.size === 0;
  }

  /** The held lamps, and since when, monotonic seconds. */
  get inHand(): Iterable<readonly [name: string, sinceS: number]> {
    return this.#sinceS;
  }

  /**
   * @param held lamps held in this beat
   * @returns the lamps no longer held, and for how long they were, seconds
   */
  beat(held: readonly string[], nowS: number): readonly (readonly [name: string, forS: number])[] {
    for (const name of held) if (!this.#sinceS.has(name)) this.#sinceS.set(name, nowS);
    const over = [...this.#sinceS].filter(([name]) => !held.includes(name));
    return over.map(([name, sinceS]) => {
      this.#sinceS.delete(name);
      return [name, nowS - sinceS] as const;
    });
  }
}
