import type { Labels } from '../../show/model/labels.js';
import type { Show } from '../../show/model/model.js';
import { wearersOf } from '../../show/model/wearers.js';
import type { Status } from '../asking/status.js';
import type { EngineNews } from '../engine/engine-link.js';

type Troubled = Map<string, { readonly performer: string; readonly sinceS: number }>;

/** What the events have told of the trackers, and of who wears them. */
export class TrackerNotes {
  /** By tracker. */
  readonly #silent: Troubled = new Map();
  readonly #frozen: Troubled = new Map();
  /** Silent when the engine before ended: one that has never heard them either doesn't know since when. */
  #before: Troubled = new Map();
  readonly #low = new Map<string, { readonly charge: number; readonly sinceS: number }>();
  /** By performer. */
  readonly #apart = new Map<
    string,
    { readonly trackers: readonly string[]; readonly apartM: number; readonly sinceS: number }
  >();
  #wearers: ReadonlyMap<string, string> = new Map();

  /** A new engine tells anew what is wrong; everybody wears what the show says. */
  engineBegins(show: Show): void {
    this.#before = new Map([...this.#before, ...this.#silent]);
    for (const notes of [this.#silent, this.#frozen, this.#apart, this.#low]) notes.clear();
    this.#wearers = wearersOf(show);
  }

  wearsNone(performer: string): boolean {
    return ![...this.#wearers.values()].includes(performer);
  }

  /** @returns whether it is about trackers */
  hear(event: EngineNews, nowS: number): boolean {
    switch (event.kind) {
      case 'tracker': {
        this.#silent.delete(event.tracker);
        this.#frozen.delete(event.tracker);
        const wearers = new Map(this.#wearers);
        if (event.change === 'assigned') wearers.set(event.tracker, event.performer);
        else wearers.delete(event.tracker);
        this.#wearers = wearers;
        return true;
      }
      case 'tracker-contact': {
        const { tracker, performer, heard, silentForS } = event;
        if (heard || silentForS !== undefined) this.#before.delete(tracker);
        if (heard) this.#silent.delete(tracker);
        else {
          const before = silentForS === undefined ? this.#before.get(tracker) : undefined;
          const goesOn = before?.performer === performer ? before : undefined;
          const sinceS = goesOn?.sinceS ?? nowS - (silentForS ?? 0);
          this.#silent.set(tracker, { performer, sinceS });
          this.#frozen.delete(tracker);
        }
        return true;
      }
      case 'tracker-frozen': {
        const { tracker, performer, frozen } = event;
        if (frozen) {
          this.#frozen.set(tracker, { performer, sinceS: nowS });
          this.#silent.delete(tracker);
        } else this.#frozen.delete(tracker);
        return true;
      }
      case 'trackers-apart': {
        const { performer, trackers, apartM } = event;
        if (trackers.length === 0) this.#apart.delete(performer);
        else this.#apart.set(performer, { trackers, apartM, sinceS: nowS });
        return true;
      }
      case 'battery':
        if (event.low) this.#low.set(event.tracker, { charge: event.charge, sinceS: nowS });
        else this.#low.delete(event.tracker);
        return true;
      default:
        return false;
    }
  }

  status(
    { performer: label }: Pick<Labels, 'performer'>,
    iso: (atS: number) => string,
  ): Pick<Status, 'silentTrackers' | 'frozenTrackers' | 'apartTrackers' | 'lowBatteries'> {
    const whose = (performer: string) => ({ performer, performerLabel: label(performer) });
    const troubled = (trackers: Troubled) =>
      [...trackers].map(([tracker, { performer, sinceS }]) => {
        return { tracker, ...whose(performer), since: iso(sinceS) };
      });
    return {
      silentTrackers: troubled(this.#silent),
      frozenTrackers: troubled(this.#frozen),
      apartTrackers: [...this.#apart].map(([performer, { sinceS, ...pair }]) => {
        return { ...whose(performer), ...pair, since: iso(sinceS) };
      }),
      lowBatteries: [...this.#low].map(([tracker, { charge, sinceS }]) => {
        const performer = this.#wearers.get(tracker);
        const wearer = performer === undefined ? {} : whose(performer);
        return { tracker, ...wearer, charge, since: iso(sinceS) };
      }),
    };
  }
}
