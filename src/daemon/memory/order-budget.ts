import { ORDER_ADDRESSES } from '../../protocols/osc/orders.js';

/**
 * Datagrams taken in one beat, from one sender and from all: at 40 beats a second 10,000 and 20,000 a second, far
 * more than a desk sends. Anything above costs the supervisor next to nothing, so that a flood does not get in the
 * way of the light.
 */
const OF_ONE_SENDER = 256;
const OF_ALL = 512;
/** Stops that are taken beyond that. */
const STOPS = 256;

const STOP = Buffer.from(ORDER_ADDRESSES.stop);

/** How much of the operator's input is read in a beat: a flood from one address leaves room for the others. */
export class OrderBudget {
  readonly #bySender = new Map<string, number>();
  #taken = 0;
  #stops = 0;
  /** Datagrams that were left unread. */
  dropped = 0;

  /** @returns whether there is anything to report about the last beat */
  beat(): boolean {
    if (this.#taken > 0) this.#bySender.clear();
    this.#taken = 0;
    this.#stops = 0;
    return this.dropped > 0;
  }

  /** Before anything else is done with a datagram. @returns false: it is left unread, and counted */
  takes(bytes: Buffer, sender: string): boolean {
    if (this.#taken < OF_ALL) {
      const before = this.#bySender.get(sender) ?? 0;
      if (before < OF_ONE_SENDER) {
        this.#bySender.set(sender, before + 1);
        this.#taken += 1;
        return true;
      }
    }
    if (this.#stops < STOPS && bytes.includes(STOP)) {
      this.#stops += 1;
      return true;
    }
    this.dropped += 1;
    return false;
  }
}
