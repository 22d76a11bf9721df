import type { LightingEvent } from './events.js';
import { findInterface, readCarrier } from './interfaces.js';

/**
 * Interfaces that are said to be lost, or without a carrier. Sockets that are opened anew know nothing of what those
 * before them have said: what they find is for the log once, and what is over is told to be.
 */
export class LinksDown {
  readonly #lost = new Set<string>();
  readonly #dark = new Set<string>();

  constructor(
    private readonly find = findInterface,
    private readonly hasCarrier = readCarrier,
  ) {}

  /** @returns the event; quiet where it was said before */
  hear(event: LightingEvent): LightingEvent {
    switch (event.kind) {
      case 'interface-lost':
        return isNews(this.#lost, event) ? event : { ...event, quiet: true };
      case 'carrier-lost':
        return isNews(this.#dark, event) ? event : { ...event, quiet: true };
      case 'interface-back':
        this.#lost.delete(event.interface);
        return event;
      case 'carrier-back':
        this.#dark.delete(event.interface);
        return event;
      default:
        return event;
    }
  }

  /**
   * What is over, now that sockets have been opened anew.
   * @param lost interfaces that are not there, or not ours
   */
  over(lost: readonly string[]): LightingEvent[] {
    const events: LightingEvent[] = [];
    for (const name of this.#lost) {
      const where = this.find(name);
      if (where === undefined || lost.includes(name)) continue;
      events.push({ kind: 'interface-back', interface: name, address: where.address });
    }
    for (const name of this.#dark) {
      if (this.hasCarrier(this.find(name)?.name ?? name) === false) continue;
      events.push({ kind: 'carrier-back', interface: name });
    }
    return events;
  }
}

/** One with a number of changes is, whatever was said before. */
function isNews(
  known: Set<string>,
  event: { readonly interface: string; readonly changes?: number },
): boolean {
  if (known.has(event.interface) && event.changes === undefined) return false;
  known.add(event.interface);
  return true;
}
