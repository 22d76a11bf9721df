import type { PlanPoint } from '../../stage/area.js';

const STEP_S = 0.25;
/** Most points of a path; when there are more, every second one is dropped. */
const MOST_POINTS = 1000;
/** With more steps than this between two points, the way between them wasn't seen. */
const GAP_STEPS = 4;

/** Where somebody was over time, in steps that grow with the length of the evening. */
export class WalkedPath {
  #stepS = STEP_S;
  #points: (readonly [atS: number, x: number, y: number])[] = [];

  add(atS: number, x: number, y: number): void {
    const last = this.#points.at(-1);
    if (last !== undefined && atS - last[0] < this.#stepS) return;
    this.#points.push([atS, x, y]);
    if (this.#points.length <= MOST_POINTS) return;
    this.#stepS *= 2;
    this.#points = this.#points.filter((_, i) => i % 2 === 0);
  }

  /** Stretches without a gap; metres, rounded to the centimetre. */
  stretches(): PlanPoint[][] {
    const all: PlanPoint[][] = [];
    let lastS = Number.NEGATIVE_INFINITY;
    for (const [atS, x, y] of this.#points) {
      if (atS - lastS > GAP_STEPS * this.#stepS) all.push([]);
      all.at(-1)?.push([Number(x.toFixed(2)), Number(y.toFixed(2))]);
      lastS = atS;
    }
    return all;
  }
}
