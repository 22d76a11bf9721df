import type { EngineCounters } from '../engine/engine-link.js';

/** How long after a flood the status still shows it, seconds. */
const TOLD_FOR_S = 60;

/** Sockets at which the system dropped datagrams, because more came than was read. */
export class FullSockets {
  readonly #all = new Map<string, { count: number; sinceS: number; lastS: number }>();

  count(now: EngineCounters, before: EngineCounters, nowS: number): void {
    for (const [socket, { lastS }] of this.#all) {
      if (nowS - lastS > TOLD_FOR_S) this.#all.delete(socket);
    }
    for (const [socket, count] of Object.entries(now.fullSockets)) {
      const more = count - (before.fullSockets[socket] ?? 0);
      if (more <= 0) continue;
      const { count: counted, sinceS } = this.#all.get(socket) ?? { count: 0, sinceS: nowS };
      this.#all.set(socket, { count: counted + more, sinceS, lastS: nowS });
    }
  }

  troubles(nowS: number): { readonly what: string; readonly sinceS: number }[] {
    return [...this.#all]
      .filter(([, { lastS }]) => nowS - lastS <= TOLD_FOR_S)
      .map(([socket, { count, sinceS }]) => {
        const what = `${count} ${count === 1 ? 'datagram' : 'datagrams'} lost at ${socket}: the system dropped them, because more came than this machine could read`;
        return { what, sinceS };
      });
  }
}
