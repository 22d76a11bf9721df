/** The way to the safe look before the daemon ends. */
export class CleanEnd {
  /** How much of its time it has left. */
  #leftS = 0;
  #done: (() => void) | undefined;

  get isUnderWay(): boolean {
    return this.#done !== undefined;
  }

  /** @returns when `finish` has been called */
  begin(withinS: number): Promise<void> {
    this.#leftS = withinS;
    return new Promise(resolve => {
      this.#done = resolve;
    });
  }

  /** Ends at once, at whatever the lights show. */
  beginNow(): void {
    this.#done ??= () => undefined;
  }

  /** One beat. @returns whether all is there, or its time is over */
  step(isSettled: boolean, dtS: number): boolean {
    if (this.#done === undefined) return false;
    this.#leftS -= dtS;
    return isSettled || this.#leftS <= 0;
  }

  /** Ends all waiting. */
  finish(): void {
    this.#done?.();
  }
}
