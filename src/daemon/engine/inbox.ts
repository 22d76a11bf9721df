import type { Datagram } from '../../engine/values/inputs.js';

/** Room for 100 performers at 50 Hz for most of a second; a tick normally finds 125. */
export const INBOX_CAPACITY = 4096;

/** Datagrams between the sockets and the tick: bounded, the oldest dropped first, each drop counted. */
export class Inbox {
  readonly #ring: (Datagram | undefined)[];
  readonly #taken: Datagram[] = [];
  #first = 0;
  #count = 0;
  dropped = 0;

  constructor(private readonly capacity = INBOX_CAPACITY) {
    this.#ring = new Array<Datagram | undefined>(capacity).fill(undefined);
  }

  get count(): number {
    return this.#count;
  }

  put(datagram: Datagram): void {
    if (this.#count === this.capacity) {
      this.#first = (this.#first + 1) % this.capacity;
      this.#count -= 1;
      this.dropped += 1;
    }
    this.#ring[(this.#first + this.#count) % this.capacity] = datagram;
    this.#count += 1;
  }

  /** All that is there, in the order of arrival; the array is the inbox's own, good until the next call. */
  take(): readonly Datagram[] {
    const taken = this.#taken;
    taken.length = 0;
    for (let i = 0; i < this.#count; i++) {
      const at = (this.#first + i) % this.capacity;
      const datagram = this.#ring[at];
      if (datagram !== undefined) taken.push(datagram);
      this.#ring[at] = undefined;
    }
    this.#first = 0;
    this.#count = 0;
    return taken;
  }
}
