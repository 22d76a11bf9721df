import type { EngineCounters } from '../engine/engine-link.js';

/** How long after a flood the status still shows it, seconds. */
const TOLD_FOR_S = 60;

/** The system is asked once a second, and the engine's counters come once a second: what is told by then came of a standstill. */
const AFTER_STILL_S = 3;

/** Sockets at which the system dropped datagrams, because more came than was read. */
export class FullSockets {
  readonly #all = new Map<
    string,
    { count: number; sinceS: number; lastS: number; ofStill: boolean }
  >();
  #stillS = Number.NEGATIVE_INFINITY;

  /** A process of the daemon has stood still until now, and read nothing. */
  stoodStill(nowS: number): void {
    this.#stillS = nowS;
  }

  count(now: EngineCounters, then: EngineCounters, nowS: number): void {
    for (const [socket, { lastS }] of this.#all) {
      if (nowS - lastS > TOLD_FOR_S) this.#all.delete(socket);
    }
    for (const [socket, count] of Object.entries(now.fullSockets)) {
      const more = count - (then.fullSockets[socket] ?? 0);
      if (more <= 0) continue;
      const before = this.#all.get(socket) ?? { count: 0, sinceS: nowS, ofStill: true };
      const ofStill = before.ofStill && nowS - this.#stillS <= AFTER_STILL_S;
      this.#all.set(socket, { ...before, count: before.count + more, lastS: nowS, ofStill });
    }
  }

  troubles(nowS: number): { readonly what: string; readonly sinceS: number }[] {
    return [...this.#all]
      .filter(([, { lastS }]) => nowS - lastS <= TOLD_FOR_S)
      .map(([socket, { count, sinceS, ofStill }]) => {
        const why = ofStill
          ? 'the daemon stood still and did not read them'
          : 'more came than this machine could read';
        const what = `${count} ${count === 1 ? 'datagram' : 'datagrams'} lost at ${socket}: the system dropped them, because ${why}`;
        return { what, sinceS };
      });
  }
}
