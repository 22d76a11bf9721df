import { isKnown } from '../../safety/watchdog.js';
import { PERFORMER_ROWS, rowOf } from '../../safety/watchdog-table.js';
import type { Show } from '../../show/model/model.js';
import type { EngineNews } from './engine-link.js';

interface Loss {
  readonly fadeS: number;
  readonly sinceS: number;
}

/**
 * Losses that the engine has begun to fade for, known from its events: the end of such a fade is promised, even if
 * the engine dies in the middle, or another show takes over.
 */
export class EngineLoss {
  /** By performer; null: their light may show what is known of them. Not in it: at their safe values, or never seen. */
  readonly #performers = new Map<string, Loss | null>();

  hear(event: EngineNews, { watchdog }: Show, nowS: number): void {
    if (event.kind !== 'performer') return;
    const { performer, from, to, cause } = event;
    if (isKnown(to)) this.#performers.set(performer, null);
    else if (to === 'safe' || to === 'waiting') this.#performers.delete(performer);
    else if (to === 'losing' && isKnown(from)) {
      const row = PERFORMER_ROWS.find(one => one.condition === cause) ?? rowOf('tracker-silent');
      this.#performers.set(performer, { fadeS: row.fadeS(watchdog), sinceS: nowS });
    }
  }

  /** A new engine begins with all of them at their safe values. */
  forget(): void {
    this.#performers.clear();
  }

  /** The same engine goes on with another show: it keeps those it knows by name, and starts others at safe. */
  keep({ performers }: Pick<Show, 'performers'>): void {
    const stay = new Set(performers.map(({ name }) => name));
    for (const name of this.#performers.keys()) if (!stay.has(name)) this.#performers.delete(name);
  }

  /** Somebody is being lost. */
  get isUnderWay(): boolean {
    for (const loss of this.#performers.values()) if (loss !== null) return true;
    return false;
  }

  /**
   * How long the fade of light that depends on these people still takes, seconds; undefined if none is under way, or
   * one of them is not lost.
   * @param ownFadeS of a fixture that has its own
   */
  leftS(nowS: number, drivers: readonly string[], ownFadeS?: number): number | undefined {
    let left: number | undefined;
    for (const name of drivers) {
      const loss = this.#performers.get(name);
      if (loss === null) return undefined;
      if (loss === undefined) continue;
      left = Math.max(left ?? 0, (ownFadeS ?? loss.fadeS) - (nowS - loss.sinceS));
    }
    return left;
  }
}
