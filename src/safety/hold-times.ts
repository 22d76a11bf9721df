/** For how long each lamp is held back, however many are at once: holds that overlap are not added up. */
export class HoldTimes {
  readonly #sinceS = new Map<string, number>();

  get isNone(): boolean {
    return this.#sinceS.size === 0;
  }

  /** Those that are held, with since when, monotonic seconds. */
  get inHand(): Iterable<readonly [name: string, sinceS: number]> {
    return this.#sinceS;
  }

  /**
   * @param held those that are held in this beat
   * @returns those that were held until now, with for how long, seconds
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
