/** Upper ends of the bins, seconds; a tick of 40 Hz is 0.025. */
export const DELAY_BINS_S = [
  0.0005, 0.001, 0.002, 0.003, 0.005, 0.0075, 0.01, 0.015, 0.02, 0.025, 0.03, 0.035, 0.04, 0.05,
  0.06, 0.08, 0.1, 0.15, 0.2, 0.3, 0.5, 1,
] as const;

/** In the order in which they follow each other; `whole` is all of them. */
export const DELAY_PARTS = ['network', 'wait', 'tick', 'pipe', 'send', 'whole'] as const;
export type DelayPart = (typeof DELAY_PARTS)[number];

/** A position on its way to the light, monotonic seconds. */
export interface PositionTimes {
  /** When it was measured, by the stamp of the tracking system where there is one; NaN: no new position. */
  stampS: number;
  arrivalS: number;
  /** The tick that took it in began, and handed the last section of its frame on. */
  tickS: number;
  handedS: number;
  /** The supervisor had that section in hand. */
  receivedS: number;
}

export interface DelayHistogram {
  readonly part: DelayPart;
  /** For each bin of `DELAY_BINS_S` how many were in it; one more for those beyond. */
  readonly counts: readonly number[];
  readonly sumS: number;
}

const BINS = DELAY_BINS_S.length + 1;

/**
 * How long positions take from the sensor to the last packet of their frame. One position a tick counts, of one
 * performer after the other: so that it is what somebody on stage has, and not the newest of a hundred. Nothing is
 * allocated for it.
 */
export class LightDelays {
  readonly #counts = new Uint32Array(BINS * DELAY_PARTS.length);
  readonly #sums = new Float64Array(DELAY_PARTS.length);

  /** @param sentS the last packet of the frame was handed to the system */
  add(times: Readonly<PositionTimes>, sentS: number): void {
    const { stampS, arrivalS, tickS, handedS, receivedS } = times;
    if (Number.isNaN(stampS)) return;
    this.#note(0, arrivalS - stampS);
    this.#note(1, tickS - arrivalS);
    this.#note(2, handedS - tickS);
    this.#note(3, receivedS - handedS);
    this.#note(4, sentS - receivedS);
    this.#note(5, sentS - stampS);
  }

  get told(): readonly DelayHistogram[] {
    return DELAY_PARTS.map((part, p) => ({
      part,
      counts: [...this.#counts.subarray(p * BINS, (p + 1) * BINS)],
      sumS: this.#sums[p] as number,
    }));
  }

  #note(part: number, seconds: number): void {
    // A report that arrived within the tick has not waited.
    const s = Math.max(0, seconds);
    let bin = 0;
    while (bin < BINS - 1 && s > (DELAY_BINS_S[bin] as number)) bin += 1;
    const at = part * BINS + bin;
    this.#counts[at] = (this.#counts[at] as number) + 1;
    this.#sums[part] = (this.#sums[part] as number) + s;
  }
}

/**
 * The time within which such a share of them lies, seconds: the upper end of its bin; infinite beyond the last.
 * undefined: there are none.
 */
export function delayWithinS(
  { counts }: Pick<DelayHistogram, 'counts'>,
  share: number,
): number | undefined {
  const total = counts.reduce((a, b) => a + b, 0);
  let seen = 0;
  for (const [bin, count] of counts.entries()) {
    seen += count;
    if (count > 0 && seen >= share * total) return DELAY_BINS_S[bin] ?? Number.POSITIVE_INFINITY;
  }
  return undefined;
}
