/**
 * Does what can wait one at a time, a turn of the event loop for each: what comes meanwhile and can't wait, a Stop
 * behind a hundred streams that begin at once, is read and done in between.
 */
export class Turns {
  readonly #waiting: (() => void)[] = [];
  #isDue = false;

  put(run: () => void): void {
    this.#waiting.push(run);
    if (this.#isDue) return;
    this.#isDue = true;
    setImmediate(() => this.#next());
  }

  #next(): void {
    this.#waiting.shift()?.();
    this.#isDue = this.#waiting.length > 0;
    if (this.#isDue) setImmediate(() => this.#next());
  }
}
