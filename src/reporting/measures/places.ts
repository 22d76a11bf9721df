import { stageWords } from '../../planning/words.js';
import type { Show } from '../../show/model/model.js';
import { type Area, compileArea, signedDistanceM } from '../../stage/area.js';

/** A place in the trade's words, such as "upstage left"; the wings are off the stage. */
export function placeWords({ bounds }: Show, x: number, y: number): string {
  const { min, max } = bounds;
  const isOn = x >= min.x - 1 && x <= max.x + 1 && y >= min.y - 1 && y <= max.y + 1;
  return isOn ? stageWords(bounds, x, y) : 'off the stage';
}

/** A place in words, with the zone or the exit that it lies in: "upstage left, window seat". */
export class PlaceNames {
  readonly #areas;

  constructor(private readonly show: Show) {
    const zones = show.zones.filter(({ around }) => around === undefined);
    const size = ({ area: { minX, maxX, minY, maxY } }: { area: Area }) =>
      (maxX - minX) * (maxY - minY);
    // Of a zone within another, the smaller one says more.
    this.#areas = [...zones, ...show.exits]
      .map(({ label, area }) => ({ label, area: compileArea(area) }))
      .sort((a, b) => size(a) - size(b));
  }

  of(x: number, y: number): string {
    const inside = this.#areas.find(({ area }) => {
      const z = Math.min(area.toM, Math.max(area.fromM, 1));
      return signedDistanceM(area, x, y, z) <= 0;
    });
    const words = placeWords(this.show, x, y);
    return inside === undefined ? words : `${words}, ${inside.label}`;
  }
}

export interface Cell {
  /** Its middle, metres. */
  readonly x: number;
  readonly y: number;
  /** How long somebody was there, and how long they were badly tracked or fading there, seconds. */
  readonly heldS: number;
  readonly weakS: number;
  readonly losses: number;
  readonly reports: number;
  /** How many reports were kept out of the track. */
  readonly gated: number;
}

/** Cells are the smallest multiple of 0.5 m with which at most this many lie side by side. */
const MOST_ACROSS = 30;
const LEAST_CELL_M = 0.5;

type Bounds = Show['bounds'];
type Sums = { -readonly [key in Exclude<keyof Cell, 'x' | 'y'>]: Cell[key] };

/** How good the tracking was, place by place. */
export class PlaceGrid {
  readonly cellM: number;
  /** By row, then by column; numbers below 0 lie beyond the corner of the first stage. */
  readonly #cells = new Map<number, Map<number, Sums>>();
  readonly #origin: { readonly x: number; readonly y: number };
  #bounds: Bounds;

  /** @param bounds of the stage, metres; the grid begins in their corner */
  constructor(bounds: Bounds) {
    const { min, max } = bounds;
    const longest = Math.max(max.x - min.x, max.y - min.y);
    this.cellM = Math.max(LEAST_CELL_M, Math.ceil((2 * longest) / MOST_ACROSS) / 2);
    this.#origin = { x: min.x, y: min.y };
    this.#bounds = bounds;
  }

  /** Changes the stage; what has been counted stays where it was. */
  cover(bounds: Bounds): void {
    this.#bounds = bounds;
  }

  hold(x: number, y: number, dtS: number, weak: boolean): void {
    const sums = this.#at(x, y);
    sums.heldS += dtS;
    if (weak) sums.weakS += dtS;
  }

  report(x: number, y: number, gated: boolean): void {
    const sums = this.#at(x, y);
    sums.reports += 1;
    if (gated) sums.gated += 1;
  }

  loss(x: number, y: number): void {
    this.#at(x, y).losses += 1;
  }

  /** The cells where somebody was, the nearest to the house first, then from the audience's left. */
  cells(): Cell[] {
    const cells: Cell[] = [];
    for (const [row, columns] of this.#cells) {
      for (const [column, sums] of columns) {
        if (!(sums.heldS > 0) && sums.losses === 0) continue;
        const x = this.#origin.x + (column + 0.5) * this.cellM;
        const y = this.#origin.y + (row + 0.5) * this.cellM;
        cells.push({ x, y, ...sums });
      }
    }
    return cells.sort((a, b) => a.y - b.y || a.x - b.x);
  }

  /** Whoever is beyond the edge is counted at the edge. */
  #at(x: number, y: number): Sums {
    const { min, max } = this.#bounds;
    const row = this.#step(y, min.y, max.y, this.#origin.y);
    const column = this.#step(x, min.x, max.x, this.#origin.x);
    let columns = this.#cells.get(row);
    if (columns === undefined) {
      columns = new Map();
      this.#cells.set(row, columns);
    }
    let sums = columns.get(column);
    if (sums === undefined) {
      sums = { heldS: 0, weakS: 0, losses: 0, reports: 0, gated: 0 };
      columns.set(column, sums);
    }
    return sums;
  }

  #step(at: number, least: number, most: number, origin: number): number {
    const first = Math.floor((least - origin) / this.cellM);
    const last = Math.ceil((most - origin) / this.cellM) - 1;
    return Math.min(last, Math.max(first, Math.floor((at - origin) / this.cellM)));
  }
}
