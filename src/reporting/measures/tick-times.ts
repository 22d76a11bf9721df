import { Histogram } from './histogram.js';

/** How long positions wait for their light in the engine, how long its ticks take, and how many come late. */
export class TickTimes {
  /** From the arrival of a datagram to the hand-over of the levels that it contributed to. */
  readonly latency = new Histogram();
  readonly length = new Histogram();
  count = 0;
  late = 0;
  readonly #arrivals: number[] = [];

  arrived(arrivalS: number): void {
    this.#arrivals.push(arrivalS);
  }

  /**
   * @param dtS since the tick before, seconds; 0 for the first
   * @param sentS when the levels were handed over, monotonic seconds; undefined if that is not known
   */
  ticked(nowS: number, dtS: number, tickHz: number, sentS: number | undefined): void {
    this.count += 1;
    if (dtS > 1.5 / tickHz) this.late += 1;
    if (sentS !== undefined) {
      this.length.add(sentS - nowS);
      for (const arrivalS of this.#arrivals) this.latency.add(sentS - arrivalS);
    }
    this.#arrivals.length = 0;
  }
}
