import type { DeskEvent } from './events.js';
import { type DeskCounters, type HeardUniverse, NO_COUNTS } from './heard-universe.js';

/** Delay before the first report, and between later ones, seconds. */
const LOOK_S = 5;
const TELL_EVERY_S = 60;
/** Packets that are not for us, or that are ignored as they should be, are no drops. */
const NO_DROPS: ReadonlySet<string> = new Set<keyof DeskCounters>([
  'taken',
  'waits-for-sync',
  'other-universe',
  'other-port',
  'terminated',
  'start-code',
]);

/** Which of the desk's packets are not used, and why. */
export class DeskDrops {
  #dueS = Number.NEGATIVE_INFINITY;
  readonly #told = new Map<string, number>();

  constructor(private readonly onEvent: (event: DeskEvent) => void) {}

  /** Once a beat. @param rejected packets that could not be read */
  look(universes: readonly HeardUniverse[], nowS: number, rejected: number): void {
    if (nowS < this.#dueS) return;
    this.#dueS = nowS + LOOK_S;
    const drops: Record<string, number> = {};
    for (const reason of ['unreadable', ...Object.keys(NO_COUNTS)]) {
      if (NO_DROPS.has(reason)) continue;
      const count =
        reason === 'unreadable' ? rejected : countOf(universes, reason as keyof DeskCounters);
      const more = count - (this.#told.get(reason) ?? 0);
      this.#told.set(reason, count);
      // Universes that are no longer heard take their counts with them.
      if (more > 0) drops[reason] = more;
    }
    if (Object.keys(drops).length === 0) return;
    this.#dueS = nowS + TELL_EVERY_S;
    this.onEvent({ kind: 'desk-dropped', drops });
  }
}

function countOf(universes: readonly HeardUniverse[], outcome: keyof DeskCounters): number {
  return universes.reduce((sum, { counters }) => sum + counters[outcome], 0);
}
