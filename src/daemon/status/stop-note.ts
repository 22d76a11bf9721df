import type { Labels } from '../../show/model/labels.js';
import type { Status } from '../asking/status.js';
import type { EngineNews } from '../engine/engine-link.js';

type StopNews = Extract<EngineNews, { kind: 'stopped' | 'resumed' }>;

/** Who is stopped, and since when. A new engine that is told of the stops before it has stopped nobody. */
export class StopNote {
  #stopOfEverybody = false;
  #sinceS: ReadonlyMap<string, number> = new Map();
  /** Of the engine before. */
  #beforeS: ReadonlyMap<string, number> = new Map();

  get everybody(): boolean {
    return this.#stopOfEverybody;
  }

  get performers(): readonly string[] {
    return [...this.#sinceS.keys()];
  }

  status({ performer }: Labels): Status['stops'] {
    const { everybody, performers } = this;
    return { everybody, performers, performerLabels: performers.map(performer) };
  }

  /** @returns since when they are stopped, monotonic seconds; undefined: they are not */
  of(performer: string): number | undefined {
    return this.#sinceS.get(performer);
  }

  /** As it was before the daemon was started again, by name, monotonic seconds. */
  restore(sinceS: ReadonlyMap<string, number>): void {
    this.#beforeS = sinceS;
  }

  /** It tells anew who is stopped. */
  engineBegins(): void {
    // One that ends before it has told of the stops leaves those that were known.
    if (this.#sinceS.size > 0) this.#beforeS = this.#sinceS;
    this.#sinceS = new Map();
    this.#stopOfEverybody = false;
  }

  hear({ stillStopped, stopOfEverybody, cause }: StopNews, nowS: number): void {
    const before = cause === 'restored' ? this.#beforeS : undefined;
    this.#sinceS = new Map(
      stillStopped.map(name => [name, this.#sinceS.get(name) ?? before?.get(name) ?? nowS]),
    );
    this.#stopOfEverybody = stopOfEverybody;
  }
}
