/** How well a follower predicted, across the floor; metres. NaN where there was too little to tell. */
export interface Scores {
  rmse: number;
  median: number;
  p95: number;
  max: number;
  /** RMS of the prediction's movement from one report to the next while the truth stands. */
  jitter: number;
  /** Share of the true positions inside the 90 % region; NaN for a follower without one. */
  containment90: number;
}

/** Half a second at 40 Hz: a handful of movements says nothing. */
const FEWEST_MOVES = 20;

export class ScoreSheet {
  private readonly errors: number[] = [];
  private inside = 0;
  private regions = 0;
  private moved2 = 0;
  private moves = 0;
  private lastX = Number.NaN;
  private lastY = Number.NaN;

  /** A new person or recording begins: no movement is counted across the break. */
  breakOff(): void {
    this.lastX = Number.NaN;
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
    const error = Math.hypot(x - trueX, y - trueY);
    this.errors.push(error);
    if (inRegion !== undefined) {
      this.regions++;
      if (inRegion) this.inside++;
    }
    if (standing && !Number.isNaN(this.lastX)) {
      this.moved2 += (x - this.lastX) ** 2 + (y - this.lastY) ** 2;
      this.moves++;
    }
    this.lastX = standing ? x : Number.NaN;
    this.lastY = y;
  }

  scores(): Scores {
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
      containment90: this.regions > 0 ? this.inside / this.regions : Number.NaN,
    };
  }
}
