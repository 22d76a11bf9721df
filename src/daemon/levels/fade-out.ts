/** The way to the safe look that a show goes before universes of it end with a reload. */
export class FadeOut {
  #underWay: { leftS: number; readonly done: () => void } | undefined;

  /** From `begin` to `end`: all light goes to the safe look, and stays there. */
  get isUnderWay(): boolean {
    return this.#underWay !== undefined;
  }

  /** @returns when it is there, or had that much time */
  begin(withinS: number): Promise<void> {
    return new Promise(resolve => {
      this.#underWay = { leftS: withinS, done: resolve };
    });
  }

  /** One beat. */
  step(isSettled: boolean, dtS: number): void {
    if (this.#underWay === undefined) return;
    this.#underWay.leftS -= dtS;
    if (isSettled || this.#underWay.leftS <= 0) this.#underWay.done();
  }

  /** Ends all waiting. */
  end(): void {
    this.#underWay?.done();
    this.#underWay = undefined;
  }
}
