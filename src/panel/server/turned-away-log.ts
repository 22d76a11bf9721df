import { isTold, type Refusal, type TurnedAway } from '../../live/turned-away.js';

/** Whoever sends a thousand wrong tokens fills no log, seconds. */
const TELLS_EVERY_S = 10;

/** Counts what is turned away, and has it told: at once, and then at most so often. */
export class TurnedAwayLog {
  readonly #all = new Map<Refusal, TurnedAway>();
  readonly #told = new Map<Refusal, number>();
  #toldS = Number.NEGATIVE_INFINITY;

  /** @param nowS monotonic @param unixS of day */
  constructor(
    private readonly nowS: () => number,
    private readonly unixS: () => number,
  ) {}

  /** @param from address, where it is known */
  note(reason: Refusal, from?: string): void {
    const count = (this.#all.get(reason)?.count ?? 0) + 1;
    this.#all.set(reason, { reason, count, from, lastS: this.unixS() });
  }

  /** What has come since it was told last; undefined: nothing that is to be told by now. */
  news():
    | { readonly all: readonly TurnedAway[]; readonly since: readonly TurnedAway[] }
    | undefined {
    if (this.nowS() - this.#toldS < TELLS_EVERY_S) return undefined;
    const all = [...this.#all.values()];
    const since = all
      .map(one => ({ ...one, count: one.count - (this.#told.get(one.reason) ?? 0) }))
      .filter(({ count }) => count > 0);
    if (!since.some(isTold)) return undefined;
    this.#toldS = this.nowS();
    for (const { reason, count } of all) this.#told.set(reason, count);
    return { all, since };
  }
}
