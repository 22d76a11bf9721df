/** What confidence was worth: the moments with a confidence in this bin, and how close they were to the truth. */
export interface ReliabilityBin {
  /** From this confidence (included) up to `to` (not included); the last bin is confidence 1 alone. */
  readonly from: number;
  readonly to: number;
  readonly moments: number;
  /** Mean confidence of these moments, and the share of them within 0.5 m and 1 m of the truth; NaN if there are none. */
  readonly confidence: number;
  readonly within50cm: number;
  readonly within1m: number;
}

/** Eight equal bins below 1. Full confidence has its own: most moments are there, and there an error matters most. */
const EDGES = [0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1] as const;

export class ReliabilitySheet {
  private readonly counts = Array.from(EDGES, () => ({ n: 0, sum: 0, near: 0, within: 0 }));

  add(confidence: number, errorM: number): void {
    const index = EDGES.findLastIndex(edge => confidence >= edge);
    const bin = this.counts[Math.max(0, index)];
    if (bin === undefined) return;
    bin.n++;
    bin.sum += confidence;
    if (errorM <= 0.5) bin.near++;
    if (errorM <= 1) bin.within++;
  }

  addAll(other: ReliabilitySheet): void {
    other.counts.forEach((theirs, i) => {
      const bin = this.counts[i];
      if (bin === undefined) return;
      bin.n += theirs.n;
      bin.sum += theirs.sum;
      bin.near += theirs.near;
      bin.within += theirs.within;
    });
  }

  bins(): readonly ReliabilityBin[] {
    return this.counts.map(({ n, sum, near, within }, i) => ({
      from: EDGES[i] ?? 0,
      to: EDGES[i + 1] ?? 1,
      moments: n,
      confidence: sum / n,
      within50cm: near / n,
      within1m: within / n,
    }));
  }
}

export interface ReliabilityFigures {
  /** Share of the moments at full confidence that are more than 1 m off. */
  readonly offAtFull: number;
  /** Share of the moments within 0.5 m at which confidence is below a half: good positions that are doubted. */
  readonly goodLost: number;
}

/** The two figures that the light depends on; NaN if there are no moments. */
export function reliabilityFigures(bins: readonly ReliabilityBin[]): ReliabilityFigures {
  const full = bins.at(-1);
  const good = (some: readonly ReliabilityBin[]) =>
    some.reduce(
      (sum, { moments, within50cm }) => sum + (moments > 0 ? moments * within50cm : 0),
      0,
    );
  return {
    offAtFull: full === undefined ? Number.NaN : 1 - full.within1m,
    goodLost: good(bins.filter(({ to }) => to <= 0.5)) / good(bins),
  };
}
