/** How well a follower predicted across the floor; metres unless said otherwise. NaN where there was too little to tell. */
export interface Scores {
  rmse: number;
  median: number;
  p95: number;
  max: number;
  /** RMS of the prediction's movement from one tick to the next while the truth stands. */
  jitter: number;
  /** RMS acceleration of the prediction from tick to tick, m/s²: what a light that follows it would do. */
  roughness: number;
  /** How far the prediction lags behind the truth, seconds; NaN where nobody moved enough to tell. */
  lagS: number;
  /** Share of the true positions inside the 90 % region; NaN for a follower without one. */
  containment90: number;
}

/** Half a second at 40 Hz: fewer movements say nothing. */
const FEWEST_MOVES = 20;

export class ScoreSheet {
  private readonly errors: number[] = [];
  private inside = 0;
  private regions = 0;
  private moved2 = 0;
  private moves = 0;
  private bent2 = 0;
  private bends = 0;
  /** The two predictions before: x, y, x, y; NaN where there is none. */
  private readonly past = [Number.NaN, Number.NaN, Number.NaN, Number.NaN];
  private hasStood = false;

  /** @param tickS interval from one to the next, seconds */
  constructor(private readonly tickS: number) {}

  /** A new person or recording begins: no movement is counted across the break. */
  breakOff(): void {
    this.past.fill(Number.NaN);
  }

  /** @param inRegion the true place is within the 90 % region; undefined for a follower without one */
  add(
    x: number,
    y: number,
    trueX: number,
    trueY: number,
    standing: boolean,
    inRegion: boolean | undefined,
  ): void {
    this.errors.push(Math.hypot(x - trueX, y - trueY));
    if (inRegion !== undefined) {
      this.regions++;
      if (inRegion) this.inside++;
    }
    const [x2, y2, x1, y1] = this.past as [number, number, number, number];
    if (standing && this.hasStood && !Number.isNaN(x1)) {
      this.moved2 += (x - x1) ** 2 + (y - y1) ** 2;
      this.moves++;
    }
    if (!Number.isNaN(x2)) {
      this.bent2 += (x - 2 * x1 + x2) ** 2 + (y - 2 * y1 + y2) ** 2;
      this.bends++;
    }
    this.hasStood = standing;
    this.past[0] = x1;
    this.past[1] = y1;
    this.past[2] = x;
    this.past[3] = y;
  }

  /** @param lagS computed by `delayOf` in offset.ts, seconds */
  scores(lagS: number): Scores {
    const sorted = Float64Array.from(this.errors).sort();
    const n = sorted.length;
    let squares = 0;
    for (const e of sorted) squares += e * e;
    return {
      rmse: Math.sqrt(squares / n),
      median: sorted[Math.floor(n * 0.5)] ?? Number.NaN,
      p95: sorted[Math.min(n - 1, Math.floor(n * 0.95))] ?? Number.NaN,
      max: sorted[n - 1] ?? Number.NaN,
      jitter: this.moves >= FEWEST_MOVES ? Math.sqrt(this.moved2 / this.moves) : Number.NaN,
      roughness:
        this.bends >= FEWEST_MOVES
          ? Math.sqrt(this.bent2 / this.bends) / this.tickS ** 2
          : Number.NaN,
      lagS,
      containment90: this.regions > 0 ? this.inside / this.regions : Number.NaN,
    };
  }
}
