import { listed } from '../../engine/events/event-words.js';

/** Something that happened, for the list of a report. */
export interface SafeAction {
  readonly atS: number;
  readonly what: string;
  /** A step of a loss: the list of losses tells it as well. */
  readonly routine?: true;
  /** No light depended on it, and nobody ordered it. */
  readonly minor?: true;
}

/** What several performers do so close together is one line, seconds. */
const TOGETHER_S = 0.2;
/** A day of a show that flickers; what is beyond is left out of the list, not of the sums. */
const MOST_KEPT = 20_000;

interface Kept {
  readonly atS: number;
  readonly what: string;
  /** Whose light; empty where it is about no performer's. */
  readonly labels: string[];
  readonly minor: boolean;
}

/** Keeps what happened, and makes one line of what happened to several performers at once. */
export class Actions {
  readonly #kept: Kept[] = [];

  add(atS: number, what: string, minor = false): void {
    this.#keep(atS, what, [], minor);
  }

  /** What became of a performer's light. */
  ofLight(atS: number, label: string, what: string): void {
    for (let i = this.#kept.length - 1; i >= 0; i--) {
      const one = this.#kept[i] as Kept;
      if (!(Math.abs(atS - one.atS) <= TOGETHER_S)) break;
      if (one.what !== what || one.labels.length === 0) continue;
      if (!one.labels.includes(label)) one.labels.push(label);
      return;
    }
    this.#keep(atS, what, [label]);
  }

  /** In the order of time. */
  all(): SafeAction[] {
    return [...this.#kept]
      .sort((a, b) => a.atS - b.atS)
      .map(({ atS, what, labels, minor }) =>
        labels.length === 0
          ? { atS, what, ...(minor ? { minor } : {}) }
          : { atS, what: `${listed(labels)}: ${what}`, routine: true },
      );
  }

  #keep(atS: number, what: string, labels: string[], minor = false): void {
    if (this.#kept.length < MOST_KEPT) this.#kept.push({ atS, what, labels, minor });
  }
}
