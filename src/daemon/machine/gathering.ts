import { monotonicS } from './clock.js';

/** From as many datagrams a millisecond on the process would be woken for nearly each of them. */
const LEAST_PER_MS = 1;
/**
 * How long they gather in the kernel, seconds. Stamped with the middle of it they are half of it off at the most: a
 * performer walks 6 mm in that. No longer, as reports of one tracker that gather together count as one moment.
 */
export const GATHER_S = 0.008;
/** What is read so soon after a sleep came in it, seconds. */
export const JUST_AWAKE_S = 0.001;
/** So long before a tick each is taken as it comes: the tick starts on time, and has all that came before it. */
export const AWAKE_BEFORE_TICK_S = 0.002;
/** A shorter sleep costs more than it spares. */
const LEAST_S = 0.0002;
/** As many does libuv take from a socket in a turn of its loop: more are waiting. */
export const MOST_IN_A_TURN = 32;

/** The whole thread: Node has no way to leave a socket alone for a while. */
function sleepThread(cell: Int32Array, forS: number): void {
  Atomics.wait(cell, 0, 0, forS * 1e3);
}

/**
 * Has datagrams gather where they come by the thousand a second. The kernel wakes a process that waits for each of
 * them, and waking up costs more than the datagram. So after one has come the process sleeps, and then
 * takes all that there are.
 */
export class Gathering {
  readonly #cell = new Int32Array(new SharedArrayBuffer(Int32Array.BYTES_PER_ELEMENT));
  /** Since the tick began, and since the loop was last let go of. */
  #came = 0;
  #cameInTurn = 0;
  #isDue = false;
  #pays = false;
  /** How long the last sleep was, and when it ended, monotonic seconds. */
  #sleptS = 0;
  #wokeS = Number.NEGATIVE_INFINITY;
  readonly #gather = () => this.#sleepOnce();

  /** @param untilTickS how long it is until the next tick, seconds; 0: there is something else to do */
  constructor(
    private readonly untilTickS: () => number,
    private readonly sleep: (cell: Int32Array, forS: number) => void = sleepThread,
    private readonly now: () => number = monotonicS,
  ) {}

  /** A tick has begun. */
  tick(periodS: number): void {
    this.#pays = this.#came >= LEAST_PER_MS * periodS * 1e3;
    this.#came = 0;
  }

  /** When a datagram came that is read now, monotonic seconds: one that waited for the end of a sleep, in the middle of it. */
  cameS(nowS: number): number {
    return nowS - this.#wokeS < JUST_AWAKE_S ? nowS - this.#sleptS / 2 : nowS;
  }

  /** A datagram has been taken. */
  arrived(): void {
    this.#came += 1;
    this.#cameInTurn += 1;
    if (this.#isDue || !this.#pays) return;
    this.#isDue = true;
    this.#cameInTurn = 1;
    // Not in the socket's own callback: what is in the kernel is fetched first.
    setImmediate(this.#gather);
  }

  #sleepOnce(): void {
    this.#isDue = false;
    if (this.#cameInTurn >= MOST_IN_A_TURN) return;
    const forS = Math.min(GATHER_S, this.untilTickS() - AWAKE_BEFORE_TICK_S);
    if (forS < LEAST_S) return;
    this.sleep(this.#cell, forS);
    this.#sleptS = forS;
    this.#wokeS = this.now();
  }
}
