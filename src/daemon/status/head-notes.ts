import type { Labels } from '../../show/model/labels.js';
import type { Show } from '../../show/model/model.js';
import type { HeadStatus } from '../asking/status.js';
import type { EngineNews } from '../engine/engine-link.js';

/** On whom the heads are that choose, and since when. */
export class HeadNotes {
  #on: ReadonlyMap<
    string,
    {
      readonly performer: string | undefined;
      readonly mapping?: string | undefined;
      readonly sinceS: number;
    }
  > = new Map();
  #pins: ReadonlyMap<string, string> = new Map();
  #sinceS = 0;

  /** A new engine's heads are on nobody yet. */
  engineBegins(nowS: number): void {
    this.#on = new Map();
    this.#pins = new Map();
    this.#sinceS = nowS;
  }

  /** @returns whether it is about heads */
  hear(event: EngineNews, nowS: number): boolean {
    if (event.kind === 'pin') {
      const pins = new Map(this.#pins);
      if (event.performer === undefined) pins.delete(event.fixture);
      else pins.set(event.fixture, event.performer);
      this.#pins = pins;
      return true;
    }
    if (event.kind !== 'hand-over') return false;
    const { fixture, performer, mapping } = event;
    this.#on = new Map([...this.#on, [fixture, { performer, mapping, sinceS: nowS }]]);
    return true;
  }

  /** @param iso of a monotonic time, seconds */
  status({ mappings, fixtures }: Show, labels: Labels, iso: (atS: number) => string): HeadStatus[] {
    const choosing = new Set(
      mappings.flatMap(one =>
        one.kind === 'follow' && one.choice !== undefined && one.choice.rule.kind !== 'middle'
          ? one.heads
          : [],
      ),
    );
    return fixtures.flatMap(({ name, label }, index): HeadStatus[] => {
      if (!choosing.has(index)) return [];
      const { performer, mapping, sinceS = this.#sinceS } = this.#on.get(name) ?? {};
      const on =
        performer === undefined ? {} : { performer, performerLabel: labels.performer(performer) };
      const by = mapping === undefined ? {} : { mapping };
      const pinnedTo = this.#pins.get(name);
      const pin = pinnedTo === undefined ? {} : { pinnedTo };
      return [{ fixture: name, label, ...on, ...by, ...pin, since: iso(sinceS) }];
    });
  }
}
