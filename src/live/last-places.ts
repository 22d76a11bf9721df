import type { LivePerformer } from './engine-schema.js';
import type { LiveSnapshot } from './schema.js';

/** Where somebody was last, for whoever is lost and has not been heard by an engine that was restarted since. */
export class LastPlaces {
  readonly #seen = new Map<string, Pick<LivePerformer, 'place' | 'region'>>();

  /** Of another show. */
  clear(): void {
    this.#seen.clear();
  }

  /** @returns the snapshot, with the last known place of those who are lost and have none in it */
  fill(snapshot: LiveSnapshot): LiveSnapshot {
    const { status, engine } = snapshot;
    if (engine === null) return snapshot;
    const performers = engine.performers.map((one, index) => {
      const { place, region } = one;
      if (place !== undefined) {
        this.#seen.set(one.name, { place, ...(region && { region }) });
        return one;
      }
      const isLost = status.performers[index]?.state === 'lost';
      return isLost ? { ...one, ...this.#seen.get(one.name) } : one;
    });
    return { ...snapshot, engine: { ...engine, performers } };
  }
}
