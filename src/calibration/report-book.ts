import type { HeardPosition } from './position-reader.js';
import type { Report } from './standing.js';

/** Reports kept of one tracker: ten minutes at 100 Hz. */
const MOST_REPORTS = 60_000;
/** More trackers than any stage has: further ones are a flood from somebody. */
const MOST_TRACKERS = 256;

/** The reports of trackers while they are averaged; bounded. */
export class ReportBook {
  readonly #reports = new Map<string, Report[]>();

  note({ tracker, timeS, x, y, z }: HeardPosition): void {
    const list = this.#reports.get(tracker);
    if (list === undefined) {
      if (this.#reports.size < MOST_TRACKERS) this.#reports.set(tracker, [{ timeS, x, y, z }]);
    } else if (list.length < MOST_REPORTS) list.push({ timeS, x, y, z });
  }

  clear(): void {
    this.#reports.clear();
  }

  of(tracker: string): readonly Report[] {
    return this.#reports.get(tracker) ?? [];
  }

  get trackers(): readonly string[] {
    return [...this.#reports.keys()];
  }

  /** The first few trackers as text, for a message. */
  get names(): string {
    const shown = this.trackers.slice(0, 8).join(', ');
    return this.#reports.size > 8 ? `${shown} ...` : shown;
  }
}
