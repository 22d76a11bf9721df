import { stageWords } from '../planning/words.js';
import type { Show } from '../show/model.js';
import { compileArea, signedDistanceM } from '../stage/area.js';

/** Where on the stage, in the trade's words; the wings are off it. */
export function placeWords({ bounds }: Show, x: number, y: number): string {
  const { min, max } = bounds;
  const isOn = x >= min.x - 1 && x <= max.x + 1 && y >= min.y - 1 && y <= max.y + 1;
  return isOn ? stageWords(bounds, x, y) : 'off the stage';
}

/** A place in words, with the zone that it lies in: "upstage left, window seat". */
export class PlaceNames {
  readonly #zones;

  constructor(private readonly show: Show) {
    this.#zones = show.zones.map(({ label, area }) => ({ label, area: compileArea(area) }));
  }

  of(x: number, y: number): string {
    const zone = this.#zones.find(({ area }) => {
      const z = Math.min(area.toM, Math.max(area.fromM, 1));
      return signedDistanceM(area, x, y, z) <= 0;
    });
    const words = placeWords(this.show, x, y);
    return zone === undefined ? words : `${words}, ${zone.label}`;
  }
}

export interface Cell {
  /** Of its middle, metres. */
  readonly x: number;
  readonly y: number;
  /** How long somebody was there, and how long of that they were hardly tracked or fading, seconds. */
  readonly heldS: number;
  readonly weakS: number;
  readonly losses: number;
  readonly reports: number;
  /** Reports that were kept out of the track. */
  readonly gated: number;
}

/** Cells of the least even size of which no more than this lie side by side. */
const MOST_ACROSS = 30;
const LEAST_CELL_M = 0.5;

/** How good the tracking was, place by place. */
export class PlaceGrid {
  readonly cellM: number;
  readonly columns: number;
  readonly rows: number;
  readonly #heldS: Float64Array;
  readonly #weakS: Float64Array;
  readonly #losses: Uint32Array;
  readonly #reports: Uint32Array;
  readonly #gated: Uint32Array;

  constructor(private readonly show: Show) {
    const { min, max } = show.bounds;
    const longest = Math.max(max.x - min.x, max.y - min.y);
    this.cellM = Math.max(LEAST_CELL_M, Math.ceil((2 * longest) / MOST_ACROSS) / 2);
    this.columns = Math.ceil((max.x - min.x) / this.cellM);
    this.rows = Math.ceil((max.y - min.y) / this.cellM);
    const count = this.columns * this.rows;
    this.#heldS = new Float64Array(count);
    this.#weakS = new Float64Array(count);
    this.#losses = new Uint32Array(count);
    this.#reports = new Uint32Array(count);
    this.#gated = new Uint32Array(count);
  }

  hold(x: number, y: number, dtS: number, weak: boolean): void {
    const i = this.#index(x, y);
    this.#heldS[i] = (this.#heldS[i] as number) + dtS;
    if (weak) this.#weakS[i] = (this.#weakS[i] as number) + dtS;
  }

  report(x: number, y: number, gated: boolean): void {
    const i = this.#index(x, y);
    this.#reports[i] = (this.#reports[i] as number) + 1;
    if (gated) this.#gated[i] = (this.#gated[i] as number) + 1;
  }

  loss(x: number, y: number): void {
    const i = this.#index(x, y);
    this.#losses[i] = (this.#losses[i] as number) + 1;
  }

  /** Those where somebody was. */
  cells(): Cell[] {
    const { min } = this.show.bounds;
    const cells: Cell[] = [];
    for (let row = 0; row < this.rows; row++) {
      for (let column = 0; column < this.columns; column++) {
        const i = row * this.columns + column;
        const losses = this.#losses[i] as number;
        if (!((this.#heldS[i] as number) > 0) && losses === 0) continue;
        cells.push({
          x: min.x + (column + 0.5) * this.cellM,
          y: min.y + (row + 0.5) * this.cellM,
          heldS: this.#heldS[i] as number,
          weakS: this.#weakS[i] as number,
          losses,
          reports: this.#reports[i] as number,
          gated: this.#gated[i] as number,
        });
      }
    }
    return cells;
  }

  /** Who is beyond the edge is counted at the edge. */
  #index(x: number, y: number): number {
    const { min } = this.show.bounds;
    const column = clamp(Math.floor((x - min.x) / this.cellM), this.columns);
    const row = clamp(Math.floor((y - min.y) / this.cellM), this.rows);
    return row * this.columns + column;
  }
}

function clamp(index: number, count: number): number {
  return Math.min(count - 1, Math.max(0, index));
}
