/** Times up to a second in bins of a quarter of a millisecond: quantiles without keeping each one. */
const BIN_S = 0.00025;
const BINS = 4000;

export interface Quantiles {
  readonly count: number;
  readonly p50S: number;
  readonly p95S: number;
  readonly p99S: number;
  readonly maxS: number;
}

export class Histogram {
  readonly #bins = new Uint32Array(BINS);
  #count = 0;
  #maxS = 0;

  add(seconds: number): void {
    if (!(seconds >= 0)) return;
    const bin = Math.min(BINS - 1, Math.floor(seconds / BIN_S));
    this.#bins[bin] = (this.#bins[bin] as number) + 1;
    this.#count += 1;
    if (seconds > this.#maxS) this.#maxS = seconds;
  }

  /** Each quantile is the upper end of its bin. */
  quantiles(): Quantiles {
    return {
      count: this.#count,
      p50S: this.#quantile(0.5),
      p95S: this.#quantile(0.95),
      p99S: this.#quantile(0.99),
      maxS: this.#maxS,
    };
  }

  #quantile(share: number): number {
    const rank = Math.ceil(share * this.#count);
    let seen = 0;
    for (let bin = 0; bin < BINS; bin++) {
      seen += this.#bins[bin] as number;
      if (seen < rank || seen === 0) continue;
      // Everything longer than a second is in the last bin.
      return bin === BINS - 1 ? this.#maxS : Math.min(this.#maxS, (bin + 1) * BIN_S);
    }
    return 0;
  }
}
