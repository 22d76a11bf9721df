import type { PacketOf } from './delivery.js';
import type { Errand, LightingEvent } from './events.js';

/** How often failed sends of an output are reported, seconds. */
const REPORTED_EVERY_S = 1;

interface Tally {
  reason: string;
  count: number;
  sent: number;
}

/** Sends of one interface that fail: each output is told of by its own levels, and what is no levels apart. */
export class SendFailures {
  readonly #outputs = new Map<string, Tally>();
  readonly #errands = new Set<Errand>();
  #dueS = Number.NEGATIVE_INFINITY;

  constructor(
    private readonly name: string,
    private readonly onEvent: (event: LightingEvent) => void,
  ) {}

  failed(of: PacketOf, reason: string, count: number): void {
    const { name } = this;
    if ('errand' in of) {
      const { errand } = of;
      if (this.#errands.has(errand)) return;
      this.#errands.add(errand);
      this.onEvent({ kind: 'errand-failed', interface: name, errand, reason });
      return;
    }
    const tally = this.#tallyOf(of.output);
    tally.reason = reason;
    tally.count += count;
  }

  sent(of: PacketOf): void {
    if ('errand' in of) {
      const { errand } = of;
      if (!this.#errands.delete(errand)) return;
      this.onEvent({ kind: 'errand-sent', interface: this.name, errand });
      return;
    }
    this.#tallyOf(of.output).sent += 1;
  }

  /** Once a beat. */
  report(nowS: number): void {
    const isDue = nowS >= this.#dueS;
    for (const [output, tally] of this.#outputs) {
      const { reason, count, sent } = tally;
      if (count > 0) {
        if (!isDue) continue;
        this.#dueS = nowS + REPORTED_EVERY_S;
        this.onEvent({ kind: 'send-failed', interface: this.name, output, reason, count, sent });
      }
      // What left before the first failure says nothing of it.
      tally.count = 0;
      tally.sent = 0;
    }
  }

  #tallyOf(output: string): Tally {
    let tally = this.#outputs.get(output);
    if (tally === undefined) {
      tally = { reason: '', count: 0, sent: 0 };
      this.#outputs.set(output, tally);
    }
    return tally;
  }
}
