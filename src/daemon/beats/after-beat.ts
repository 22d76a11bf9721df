/** For work that should not be in the way of the light: a beat has just been sent, and the next is as far away as it can be. */
export class AfterBeat {
  #waiting: (() => void)[] = [];

  /** @returns when the next beat has been sent */
  next(): Promise<void> {
    return new Promise(resolve => {
      this.#waiting.push(resolve);
    });
  }

  /** A beat has been sent. */
  tell(): void {
    if (this.#waiting.length === 0) return;
    for (const resolve of this.#waiting.splice(0)) setImmediate(resolve);
  }
}
