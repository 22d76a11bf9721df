import type { Runner } from './carrier.js';

/** After a failure what was to be said is tried again, with what has come since: so soon, then less often. */
const AGAIN_AFTER_MS = 200;
const AGAIN_AT_MOST_MS = 5000;

/**
 * Tells the service manager how the daemon is (sd_notify(3)). One message at a time is under way;
 * what comes meanwhile is gathered, the newest value of a variable wins.
 */
export class Notifier {
  #pending = new Map<string, string>();
  #busy = false;
  #idle: (() => void)[] = [];
  #failing = false;

  #again: NodeJS.Timeout | undefined;
  #againMs = AGAIN_AFTER_MS;

  /** @param onFailure told once in a row of failures */
  constructor(
    private readonly run: Runner,
    private readonly onFailure: (reason: string) => void,
  ) {}

  send(variables: Readonly<Record<string, string>>): void {
    for (const [name, value] of Object.entries(variables)) {
      // A message is lines of assignments; a line break in a value would begin another.
      this.#pending.set(name, value.replace(/[\r\n]+/g, ' '));
    }
    this.#next();
  }

  /** When all has been carried. */
  async settled(): Promise<void> {
    if (!this.#busy) return;
    await new Promise<void>(resolve => this.#idle.push(resolve));
  }

  #next(): void {
    if (this.#busy || this.#again !== undefined) return;
    if (this.#pending.size === 0) {
      for (const resolve of this.#idle.splice(0)) resolve();
      return;
    }
    const sent = this.#pending;
    this.#pending = new Map();
    this.#busy = true;
    this.run(
      [...sent].map(([name, value]) => `${name}=${value}`),
      failure => {
        this.#busy = false;
        const failedBefore = this.#failing;
        this.#failing = failure !== undefined;
        if (failure === undefined) {
          this.#againMs = AGAIN_AFTER_MS;
          this.#next();
          return;
        }
        if (!failedBefore) this.onFailure(failure);
        this.#pending = new Map([...sent, ...this.#pending]);
        // A stroke is of its moment; the beats give another.
        this.#pending.delete('WATCHDOG');
        this.#again = setTimeout(() => {
          this.#again = undefined;
          this.#next();
        }, this.#againMs);
        this.#again.unref();
        this.#againMs = Math.min(AGAIN_AT_MOST_MS, 2 * this.#againMs);
      },
    );
  }
}
