import type { EngineCounters } from '../engine/engine-link.js';
import type { Entry } from '../log/log-entry.js';
import { describeDrops, describeMerged } from './describe-drops.js';

/** What the engine has dropped since the log last said so; told together, so that a flood doesn't flood the log. */
export class DropNews {
  #latest: EngineCounters | undefined;
  #told: EngineCounters | undefined;

  constructor(private readonly write: (entry: Entry) => void) {}

  /** An engine that was started anew counts from 0: what the one before had counted is told first. */
  hear(latest: EngineCounters): void {
    if (this.#latest !== undefined && latest.datagrams < this.#latest.datagrams) {
      this.tell();
      this.#told = undefined;
    }
    this.#latest = latest;
  }

  tell(): void {
    if (this.#latest === undefined) return;
    const entries = [
      describeDrops(this.#latest, this.#told),
      describeMerged(this.#latest, this.#told),
    ];
    for (const entry of entries) if (entry !== undefined) this.write(entry);
    this.#told = this.#latest;
  }
}
