import { monotonicS } from '../../daemon/machine/clock.js';
import { waitingFor, waitingInWords } from '../../readiness/waiting.js';
import type { Walk } from '../../readiness/walk.js';
import type { Show } from '../../show/model/model.js';

const LOOK_EVERY_MS = 1000;
/** Interval in a file or a pipe, where a line can't be overwritten. */
const PLAIN_EVERY_S = 10;

/** While a preflight listens: the time left, and whom and what it still waits for. On standard error. */
export class WaitingLine {
  readonly #timer: NodeJS.Timeout;
  readonly #endS: number;
  #saidS = monotonicS();
  #last = '';

  constructor(
    private readonly show: Show,
    private readonly walk: Walk,
    seconds: number,
    private readonly out: NodeJS.WriteStream = process.stderr,
  ) {
    this.#endS = monotonicS() + seconds;
    this.#timer = setInterval(() => this.#look(), LOOK_EVERY_MS);
  }

  end(): void {
    clearInterval(this.#timer);
    if (this.out.isTTY && this.#last !== '') this.out.write('\r\x1b[K');
  }

  #look(): void {
    const nowS = monotonicS();
    this.walk.runTo(nowS);
    const leftS = Math.max(0, Math.round(this.#endS - nowS));
    const what = waitingInWords(waitingFor(this.show, this.walk));
    const line = `${leftS} s left: ${what}`;
    if (this.out.isTTY) {
      const width = Math.max(20, this.out.columns - 1);
      const shown = line.length > width ? `${line.slice(0, width - 1)}…` : line;
      this.out.write(`\r\x1b[K${shown}`);
    } else if (nowS - this.#saidS >= PLAIN_EVERY_S && what !== this.#last) {
      this.#saidS = nowS;
      this.out.write(`${line}\n`);
    } else return;
    this.#last = what;
  }
}
