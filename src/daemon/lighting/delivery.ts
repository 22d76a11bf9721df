import type { Errand as ErrandName } from './events.js';

/** Whose a packet is: levels of an output, or what is sent beside them. */
export type PacketOf = { readonly output: string } | { readonly errand: ErrandName };

export type Sent = (error: NodeJS.ErrnoException | null, bytes: number, of: PacketOf) => void;
type Done = (error: NodeJS.ErrnoException | null, bytes: number) => void;

/** Receives the result of sending a packet. */
export interface Sender {
  readonly of: PacketOf;
  /** What the socket calls when it knows; made anew only when the socket is (`then` is its own part). */
  callback(then: Sent): Done;
  note(taken: boolean): void;
}

/** Keeps the callback of the socket of now. */
export abstract class OneSocketsSender implements Sender {
  abstract readonly of: PacketOf;
  #then: Sent | undefined;
  #done: Done = () => undefined;

  abstract note(taken: boolean): void;

  callback(then: Sent): Done {
    if (this.#then !== then) {
      this.#then = then;
      this.#done = (error, bytes) => {
        // Late results from a dropped socket are not about the present packet.
        if (this.#then === then) this.note(error === null);
        then(error, bytes, this.of);
      };
    }
    return this.#done;
  }
}

/** Of packets that are no levels: the light does not go by them. */
export class Errand extends OneSocketsSender {
  constructor(readonly of: PacketOf) {
    super();
  }

  note(): void {
    // Nobody waits for it.
  }
}

/** Whether the packets of one stream really leave, and the levels that last did. */
export class Delivery extends OneSocketsSender {
  /** The system refused the last packet, to every destination; or it never got that far. */
  failed = false;
  /** `last` holds what has left; before, nothing is known of what receivers have. */
  known = false;
  #taken = false;
  /** Number of destinations whose result is not known yet. */
  #pending = 0;
  /** The same as `last`, where other outputs write into that too. */
  #own: Uint8Array | undefined;

  /**
   * @param slots of the packet
   * @param last where the levels that have left are kept
   * @param of the output whose levels they are
   */
  constructor(
    private readonly slots: Uint8Array,
    private readonly last: Uint8Array,
    readonly of: PacketOf,
  ) {
    super();
  }

  /** From now on keeps what this output has sent apart from what others have. @returns where; a view */
  keepOwn(): Uint8Array {
    this.#own ??= new Uint8Array(this.slots.length);
    return this.#own;
  }

  /** Another machine sends in place of this one: nothing is known of what receivers have, nor of what would leave. */
  forget(): void {
    this.failed = false;
    this.known = false;
  }

  /** A packet is about to be given to the system, to however many destinations. */
  begin(destinations: number): void {
    this.#taken = false;
    this.#pending = destinations;
  }

  /** The last packet has left for nobody, and that is certain. */
  get refused(): boolean {
    return this.failed && this.#pending === 0;
  }

  note(taken: boolean): void {
    this.#pending -= 1;
    if (this.#taken) return;
    this.#taken = taken;
    this.failed = !taken;
    if (!taken) return;
    this.known = true;
    this.last.set(this.slots);
    this.#own?.set(this.slots);
  }
}
