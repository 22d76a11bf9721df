/** Of this process, in bytes. */
export interface MemoryUse {
  readonly heapUsed: number;
  readonly rss: number;
}

/** What this process uses: to ask takes a descriptor, and where there is none, what was known last stands. */
export class MemoryGauge {
  #last: MemoryUse = { heapUsed: 0, rss: 0 };

  constructor(private readonly read: () => MemoryUse = process.memoryUsage) {}

  /** As of now, or as last known; zeros before the first time. */
  get now(): MemoryUse {
    try {
      const { heapUsed, rss } = this.read();
      this.#last = { heapUsed, rss };
    } catch {
      // The next one asks again.
    }
    return this.#last;
  }
}
