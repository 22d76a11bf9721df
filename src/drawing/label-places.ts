import { widthOf } from './letters.js';

/** What is taken on a picture, its units. */
export interface Box {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** Where lines of text stand: the middle of all, and the base line of the first as it is written, before it is turned. */
export interface Placed {
  readonly x: number;
  readonly y: number;
  readonly middleY: number;
  /** So far from what it names that a line has to join them. */
  readonly isFar: boolean;
}

export const LETTER_HEIGHT = 1.2;
const ASCENT = 0.95;
/**
 * Round a mark: beside it; below and above it, its middle there or its end; and at the corners. `along`: how far of its own width
 * a text is to one side where it is below or above.
 */
const WAYS = [
  { right: 1, down: 0, along: 0 },
  { right: -1, down: 0, along: 0 },
  { right: 0, down: 1, along: 0 },
  { right: 0, down: -1, along: 0 },
  { right: 0, down: 1, along: 1 },
  { right: 0, down: 1, along: -1 },
  { right: 0, down: -1, along: 1 },
  { right: 0, down: -1, along: -1 },
  { right: 1, down: 1, along: 0 },
  { right: -1, down: 1, along: 0 },
  { right: 1, down: -1, along: 0 },
  { right: -1, down: -1, along: 0 },
] as const;
/** Nobody takes a text that is so near for another one's. */
const NEAR_PX = 12;
const RINGS_PX = [2, 10, 22, 38, 58, 82];
/** One whose line is longer crosses others. */
export const CLOSE_PX = 22;

/** Finds room for text beside what it names, so that no two texts of a picture lie on each other, or leave it. */
export class LabelPlaces {
  readonly #taken: Box[] = [];

  /** @param frame in which all text stays */
  constructor(private readonly frame: Box) {}

  take(box: Box): void {
    this.#taken.push(box);
  }

  /**
   * @param half of the mark's width and height
   * @param mostPx no further from it
   * @returns undefined where there is no room anywhere near
   */
  beside(
    x: number,
    y: number,
    [halfX, halfY]: readonly [number, number],
    lines: readonly string[],
    size: number,
    mostPx = Number.POSITIVE_INFINITY,
  ) {
    const [width, height] = sizeOf(lines, size);
    for (const ring of RINGS_PX) {
      if (ring > mostPx) break;
      for (const { right, down, along } of WAYS) {
        const middleX = x + right * (halfX + ring + width / 2) + along * (width / 2 - halfX);
        const middleY = y + down * (halfY + ring + height / 2);
        const placed = this.#at(middleX, middleY, width, height, size);
        if (placed === undefined) continue;
        const [gapX, gapY] = [Math.abs(right) * ring, Math.abs(down) * ring];
        return { ...placed, isFar: Math.hypot(gapX, gapY) > NEAR_PX };
      }
    }
    return undefined;
  }

  /**
   * Within something: at the first of these places where there is room.
   * @param upright turned, to be read from the right
   */
  within(
    places: readonly (readonly [x: number, y: number])[],
    lines: readonly string[],
    size: number,
    upright = false,
  ) {
    const [long, high] = sizeOf(lines, size);
    const [width, height] = upright ? [high, long] : [long, high];
    for (const [x, y] of places) {
      const placed = this.#at(x, y, width, height, size);
      if (placed !== undefined) return { ...placed, y: y - high / 2 + ASCENT * size };
    }
    return undefined;
  }

  #at(x: number, y: number, width: number, height: number, size: number): Placed | undefined {
    const box = {
      left: x - width / 2,
      top: y - height / 2,
      right: x + width / 2,
      bottom: y + height / 2,
    };
    const { frame } = this;
    const isOut =
      box.left < frame.left ||
      box.right > frame.right ||
      box.top < frame.top ||
      box.bottom > frame.bottom;
    if (isOut || this.#taken.some(one => meet(one, box))) return undefined;
    this.#taken.push(box);
    return { x, y: box.top + ASCENT * size, middleY: y, isFar: false };
  }
}

export function sizeOf(lines: readonly string[], size: number): readonly [number, number] {
  const width = size * Math.max(0, ...lines.map(widthOf));
  return [width, lines.length * size * LETTER_HEIGHT];
}

function meet(a: Box, b: Box): boolean {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}
