import type { TurnedAway } from '../../live/turned-away.js';
import type { Status } from '../asking/status.js';

/** What the line of the status says is of so long, seconds. */
const RECENT_S = 600;

/** What the panel has turned away, as it tells every few seconds. */
export class TurnedAwayNote {
  #all: readonly TurnedAway[] = [];
  /** What each telling added, the oldest first. */
  #news: { readonly atS: number; readonly since: readonly TurnedAway[] }[] = [];

  /** Another panel process counts from 0. */
  begin(): void {
    this.#all = [];
  }

  take(all: readonly TurnedAway[], since: readonly TurnedAway[], nowS: number): void {
    this.#all = all;
    this.#forget(nowS);
    this.#news.push({ atS: nowS, since });
  }

  status(nowS: number): Status['turnedAway'] {
    this.#forget(nowS);
    const recent = new Map<string, number>();
    for (const { reason, count } of this.#news.flatMap(({ since }) => since)) {
      recent.set(reason, count + (recent.get(reason) ?? 0));
    }
    return this.#all.map(({ reason, count, from, lastS }) => ({
      ...{ reason, count, recent: recent.get(reason) ?? 0 },
      ...(from === undefined ? {} : { from }),
      last: new Date(lastS * 1e3).toISOString(),
    }));
  }

  #forget(nowS: number): void {
    this.#news = this.#news.filter(({ atS }) => nowS - atS < RECENT_S);
  }
}
