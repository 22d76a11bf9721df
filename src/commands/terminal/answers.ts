import { createInterface } from 'node:readline';

/** Lines of standard input, one at a time; lines that come early wait. */
export class Answers {
  readonly #waiting: string[] = [];
  #ended = false;
  #wake: (() => void) | undefined;

  readonly #lines = createInterface({ input: process.stdin });

  constructor() {
    this.#lines.on('line', line => {
      this.#waiting.push(line);
      this.#wake?.();
    });
    this.#lines.once('close', () => {
      this.#ended = true;
      this.#wake?.();
    });
  }

  /** The next line; undefined at the end of the input. */
  async next(): Promise<string | undefined> {
    if (this.#waiting.length === 0 && !this.#ended) {
      await new Promise<void>(resolve => {
        this.#wake = resolve;
      });
      this.#wake = undefined;
    }
    return this.#waiting.shift();
  }

  close(): void {
    this.#lines.close();
  }
}
