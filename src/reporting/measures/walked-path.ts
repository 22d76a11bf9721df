import type { PlanPoint } from '../../stage/area.js';

const STEP_S = 0.25;
/** A path of an evening is drawn with no more: then every second point is enough. */
const MOST_POINTS = 1000;
/** Longer apart than so many steps, somebody was not seen on the way. */
const GAP_STEPS = 4;

/** Where somebody was over time, in steps that grow with its length. */
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

  /** In stretches without a gap, metres, to the centimetre. */
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
