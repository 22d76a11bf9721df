type Sent = (error: NodeJS.ErrnoException | null, bytes: number) => void;

/** Whether the packets of one stream really leave, and the levels that last did. */
export class Delivery {
  /** The system refused the last packet, to every destination; or it never got that far. */
  failed = false;
  /** `last` holds what has left; before, nothing is known of what receivers have. */
  known = false;
  #taken = false;
  #then: Sent | undefined;
  #done: Sent = () => undefined;

  /**
   * @param slots of the packet
   * @param last where the levels that have left are kept
   */
  constructor(
    private readonly slots: Uint8Array,
    private readonly last: Uint8Array,
  ) {}

  /** A packet is about to be given to the system, to however many destinations. */
  begin(): void {
    this.#taken = false;
  }

  /** What the socket calls when it knows; made anew only when the socket is (`then` is its own part). */
  callback(then: Sent): Sent {
    if (this.#then !== then) {
      this.#then = then;
      this.#done = (error, bytes) => {
        // What a dropped socket still has to say is not about the packet of now.
        if (this.#then === then) this.note(error === null);
        then(error, bytes);
      };
    }
    return this.#done;
  }

  note(taken: boolean): void {
    if (this.#taken) return;
    this.#taken = taken;
    this.failed = !taken;
    if (!taken) return;
    this.known = true;
    this.last.set(this.slots);
  }
}
