import type { Show } from '../../show/model/model.js';
import type { Status } from '../asking/status.js';

/** Which cue is on, and since when. */
export class CueNote {
  #index = 0;
  #sinceS = 0;

  get index(): number {
    return this.#index;
  }

  /** Another show begins. */
  take(nowS: number): void {
    this.#index = 0;
    this.#sinceS = nowS;
  }

  /** @returns whether that is news */
  goTo(index: number, nowS: number): boolean {
    if (index === this.#index) return false;
    this.#index = index;
    this.#sinceS = nowS;
    return true;
  }

  /** @param iso of a monotonic time, seconds */
  status({ cues }: Show, iso: (atS: number) => string): Status['cue'] {
    const cue = cues[this.#index];
    return cue && { name: cue.name, label: cue.label, since: iso(this.#sinceS) };
  }
}
