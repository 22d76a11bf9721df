import { listed } from '../../engine/events/event-words.js';

/** Something that happened, for the list of a report. */
export interface SafeAction {
  readonly atS: number;
  readonly what: string;
  /** A step of a loss, which is also in the list of losses. */
  readonly routine?: true;
  /** No light depended on it, and nobody ordered it. */
  readonly minor?: true;
}

/** What happens to several performers within this time is one line, seconds. */
const TOGETHER_S = 0.2;
/** A day of a show that flickers; more is left out of the list, not of the sums. */
const MOST_KEPT = 20_000;

interface Kept {
  readonly atS: number;
  readonly what: string;
  /** Labels of the performers whose light it is about; empty if it is about nobody's. */
  readonly labels: string[];
  readonly minor: boolean;
}

/** Collects what happened; what happened to several performers at once becomes one line. */
export class Actions {
  readonly #kept: Kept[] = [];

  add(atS: number, what: string, minor = false): void {
    this.#keep(atS, what, [], minor);
  }

  /** Notes what happened to a performer's light. */
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

  /** All of it in order of time. */
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
