import type { AreaOptions, PlanPoint } from '../stage/area.js';
import { escaped } from '../stage/markup.js';
import type { Bounds } from '../stage/vector.js';
import { INK } from './ink.js';
import { CLOSE_PX, LabelPlaces, LETTER_HEIGHT, type Placed, sizeOf } from './label-places.js';
import { inLines, widthOf } from './letters.js';
import { clipped, isIn, outlineOf, type PlanFrame, placesWithin } from './outline.js';

interface Place {
  readonly x: number;
  readonly y: number;
}

export interface FloorOptions {
  readonly bounds: Bounds;
  /** What the picture has to hold besides the stage: where things hang, stand or land. */
  readonly places?: readonly Place[];
  /** Room round all that, metres. */
  readonly aroundM?: number;
  /** A picture among others: without words on its edges, ticks and names. */
  readonly isSmall?: boolean;
  /** Units of the picture across; a size of text is in the same. */
  readonly wide?: number;
  readonly mostHigh?: number;
}

export interface AreaStyle {
  readonly ink: string;
  readonly fill?: string;
  /** Of its edge; left out: an unbroken line. */
  readonly dash?: string;
  /** On shades: its edge has paper on both sides. */
  readonly hasRim?: boolean;
}

export interface Mark {
  readonly at: Place;
  /** SVG about 0, 0, at most `half` units to each side. */
  readonly shape: string;
  readonly half: number;
  /** Lines beside it; the first is its name. None: it stays without. */
  readonly lines: readonly string[];
  /** Shown while a pointer rests on it. */
  readonly title: string;
  readonly ink?: string;
  /** What stands for it where there is no room for its name; left out: what is next. */
  readonly number?: string;
}

const SIZE = 12;
const SMALL = { wide: 240, mostHigh: 260 } as const;
const LARGE = { wide: 480, mostHigh: 600 } as const;
const MOST_LETTERS = 15;
const FEW_LETTERS = 8;
/** Of an area that lies nearly outside, no more is shown. */
const LEAST_PX = 3;
const TICKS_M = [1, 2, 5, 10, 20, 50] as const;
const LEAST_TICK_PX = 20;
/** Scales that people have rulers for, as 1 : n. */
const SCALES = [20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000];

/**
 * The stage from above, to scale, the audience below and stage left at the right, as seen from the house. Drawn in order: what
 * lies under it first. Names are put where there is room, at the end.
 */
export class Floor {
  readonly wide: number;
  readonly high: number;
  readonly perM: number;
  readonly frame: PlanFrame;
  readonly #small: boolean;
  readonly #left: number;
  readonly #top: number;
  readonly #bounds: Bounds;
  readonly #parts: string[] = [];
  readonly #names: ((labels: LabelPlaces) => string)[] = [];
  readonly #marks: Mark[] = [];
  readonly #numbered: { readonly key: string; readonly title: string }[] = [];
  /** From marks to names that are far from them. */
  readonly #leaders: string[] = [];

  constructor({
    bounds,
    places = [],
    aroundM = 0.5,
    isSmall = false,
    wide,
    mostHigh,
  }: FloorOptions) {
    const { min, max } = bounds;
    const xs = [min.x, max.x, ...places.map(({ x }) => x)];
    const ys = [min.y, max.y, ...places.map(({ y }) => y)];
    const size = isSmall ? SMALL : LARGE;
    this.wide = wide ?? size.wide;
    this.#small = isSmall;
    this.#bounds = bounds;
    // Beside the frame: a word, and the figures of the ticks.
    const edges = isSmall
      ? { left: 2, right: 2, top: 2, bottom: 2 }
      : { left: 40, right: 20, top: 20, bottom: 40 };
    const [x0, x1] = [Math.min(...xs) - aroundM, Math.max(...xs) + aroundM];
    const [y0, y1] = [Math.min(...ys) - aroundM, Math.max(...ys) + aroundM];
    const room = this.wide - edges.left - edges.right;
    this.perM = Math.min(room / (x1 - x0), (mostHigh ?? size.mostHigh) / (y1 - y0));
    // A deep stage stands in the middle of its picture; the rest of the width is floor, too.
    const spareM = (room / this.perM - (x1 - x0)) / 2;
    this.frame = { x0: x0 - spareM, x1: x1 + spareM, y0, y1 };
    this.#left = edges.left;
    this.#top = edges.top;
    this.high = edges.top + edges.bottom + (y1 - y0) * this.perM;
  }

  x(metres: number): string {
    return fixed(this.#x(metres));
  }

  y(metres: number): string {
    return fixed(this.#y(metres));
  }

  #x(metres: number): number {
    return this.#left + (metres - this.frame.x0) * this.perM;
  }

  #y(metres: number): number {
    return this.#top + (this.frame.y1 - metres) * this.perM;
  }

  points(points: readonly PlanPoint[]): string {
    return points.map(([x, y]) => `${this.x(x)},${this.y(y)}`).join(' ');
  }

  draw(...svg: readonly string[]): void {
    this.#parts.push(...svg);
  }

  /** The edge of the stage, with marks every metre or so. */
  stage(): void {
    const { min, max } = this.#bounds;
    const corners: PlanPoint[] = [
      [min.x, min.y],
      [max.x, min.y],
      [max.x, max.y],
      [min.x, max.y],
    ];
    this.draw(
      `<polygon points="${this.points(corners)}" fill="none" stroke="${INK.text}" stroke-width="1.6"><title>stage</title></polygon>`,
    );
  }

  /** @param name put within it; left out: it has none */
  area(area: AreaOptions, style: AreaStyle, name?: string): void {
    this.polygon(outlineOf(area), style, name);
  }

  /** What of it lies in the picture. */
  polygon(points: readonly PlanPoint[], style: AreaStyle, name?: string): void {
    const shown = clipped(points, this.frame);
    if (isThin(shown, LEAST_PX / this.perM)) return;
    const { ink, fill, dash, hasRim = false } = style;
    if (hasRim) {
      this.draw(
        `<polygon points="${this.points(shown)}" fill="none" stroke="${INK.paper}" stroke-width="3.4" stroke-opacity="0.8"/>`,
      );
    }
    const filled = fill === undefined ? 'fill="none"' : `fill="${fill}" fill-opacity="0.14"`;
    const dashed = dash === undefined ? '' : ` stroke-dasharray="${dash}"`;
    const title = name === undefined ? '' : `<title>${escaped(name)}</title>`;
    this.draw(
      `<polygon points="${this.points(shown)}" ${filled} stroke="${ink}" stroke-width="1.2"${dashed}>${title}</polygon>`,
    );
    if (name === undefined || this.#small) return;
    this.#names.push(labels => this.#nameWithin(labels, shown, name, ink));
  }

  /** Along it, in shorter lines or upright where all of it is in there; else anywhere in it, or beside it. */
  #nameWithin(labels: LabelPlaces, shown: readonly PlanPoint[], name: string, ink: string): string {
    const places = placesWithin(shown);
    const px = (some: readonly PlanPoint[]) =>
      some.map(([x, y]) => [this.#x(x), this.#y(y)] as const);
    const whole = inLines(name, MOST_LETTERS);
    for (const [lines, upright] of [
      [whole, false],
      [inLines(name, FEW_LETTERS), false],
      [whole, true],
    ] as const) {
      const [wide, high] = sizeOf(lines, SIZE).map(one => one / 2 / this.perM) as [number, number];
      const [halfX, halfY] = upright ? [high, wide] : [wide, high];
      const held = places.filter(([x, y]) =>
        [-1, 1].every(sx => [-1, 1].every(sy => isIn(shown, [x + sx * halfX, y + sy * halfY]))),
      );
      const placed = labels.within(px(held), lines, SIZE, upright);
      if (placed !== undefined) return text(placed, lines, ink, upright);
    }
    const inside = labels.within(px(places), whole, SIZE);
    if (inside !== undefined) return text(inside, whole, ink);
    // Beside the whole of it, and not somewhere over it.
    const [xs, ys] = [shown.map(([x]) => this.#x(x)), shown.map(([, y]) => this.#y(y))];
    const [left, right] = [Math.min(...xs), Math.max(...xs)];
    const [top, bottom] = [Math.min(...ys), Math.max(...ys)];
    const half = [(right - left) / 2, (bottom - top) / 2] as const;
    return this.#beside(labels, (left + right) / 2, (top + bottom) / 2, half, whole, ink, name);
  }

  mark(mark: Mark): void {
    this.#marks.push(mark);
    const { at, shape, title } = mark;
    this.draw(
      `<g transform="translate(${this.x(at.x)} ${this.y(at.y)})"><title>${escaped(title)}</title>${shape}</g>`,
    );
  }

  /** Units of print: the largest round scale at which it fits this width, and how wide it is then. */
  scale(mostWideMm: number): { readonly to: number; readonly wideMm: number } {
    const wideM = this.wide / this.perM;
    const to = SCALES.find(one => (1000 * wideM) / one <= mostWideMm) ?? 1000;
    return { to, wideMm: (1000 * wideM) / to };
  }

  /** What stands for the numbers in a crowded picture: known once it has been made; empty where there was room for all names. */
  get numbered(): readonly string[] {
    return this.#numbered.map(({ key, title }) => `${key}: ${title}`);
  }

  /**
   * @param label what it shows, for those who don't see it
   * @param attributes of the SVG element
   */
  svg(label: string, attributes = ''): string {
    this.#numbered.length = 0;
    this.#leaders.length = 0;
    const labels = new LabelPlaces({
      left: this.#left,
      top: this.#top,
      right: this.#left + (this.frame.x1 - this.frame.x0) * this.perM,
      bottom: this.#top + (this.frame.y1 - this.frame.y0) * this.perM,
    });
    for (const { at, half } of this.#marks) {
      const [x, y] = [this.#x(at.x), this.#y(at.y)];
      labels.take({ left: x - half, top: y - half, right: x + half, bottom: y + half });
    }
    // Names of marks don't lie on the edge of the stage.
    const { min, max } = this.#bounds;
    const [left, right, top, bottom] = [
      this.#x(min.x),
      this.#x(max.x),
      this.#y(max.y),
      this.#y(min.y),
    ];
    labels.take({ left, right, top: top - 1, bottom: top + 1 });
    labels.take({ left, right, top: bottom - 1, bottom: bottom + 1 });
    labels.take({ left: left - 1, right: left + 1, top, bottom });
    labels.take({ left: right - 1, right: right + 1, top, bottom });
    // Those of areas first: they belong within them, and those of marks may stand anywhere round theirs.
    const names = [
      ...this.#names.map(name => name(labels)),
      ...this.#marks.map(mark => this.#nameOf(mark, labels)),
    ];
    return [
      `<svg class="floor" viewBox="0 0 ${this.wide} ${fixed(this.high)}" role="img" aria-label="${escaped(label)}" font-family="inherit" font-size="${SIZE}" fill="${INK.text}"${attributes}>`,
      ...this.#parts,
      // No line goes through a name.
      ...this.#leaders,
      ...names,
      ...(this.#small ? [] : [this.#edges()]),
      '</svg>',
    ].join('\n');
  }

  #nameOf({ at, half, lines, ink = INK.text, title, number }: Mark, labels: LabelPlaces): string {
    if (lines.length === 0) return '';
    const shown = lines.flatMap(line => inLines(line, MOST_LETTERS));
    const [x, y] = [this.#x(at.x), this.#y(at.y)];
    return this.#beside(labels, x, y, [half, half], shown, ink, title, number);
  }

  #beside(
    labels: LabelPlaces,
    x: number,
    y: number,
    half: readonly [number, number],
    lines: readonly string[],
    ink: string,
    title: string,
    number = this.#nextKey(),
  ): string {
    // A small picture has no list beside it.
    const anywhere = Number.POSITIVE_INFINITY;
    const ways: [some: readonly string[], mostPx: number][] = this.#small
      ? [[lines, anywhere]]
      : [
          [lines, CLOSE_PX],
          [[number], CLOSE_PX],
          [lines, anywhere],
          [[number], anywhere],
        ];
    let shown: { readonly some: readonly string[]; readonly placed: Placed } | undefined;
    for (const [some, mostPx] of ways) {
      const placed = labels.beside(x, y, half, some, SIZE, mostPx);
      if (placed === undefined) continue;
      shown = { some, placed };
      break;
    }
    if (!this.#small && shown?.some[0] !== lines[0]) {
      this.#numbered.push({ key: number, title });
    }
    if (shown === undefined) return '';
    const { some, placed } = shown;
    // As far as the edge of its words, and not through them.
    const [wide, high] = sizeOf(some, SIZE);
    const [toX, toY] = [placed.x - x, placed.middleY - y];
    const share = Math.max(
      0,
      1 - Math.min((wide / 2 + 2) / Math.abs(toX), high / 2 / Math.abs(toY)),
    );
    if (placed.isFar) {
      this.#leaders.push(
        `<path d="M${fixed(x)} ${fixed(y)}L${fixed(x + share * toX)} ${fixed(y + share * toY)}" stroke="${INK.quiet}" stroke-width="0.7"/>`,
      );
    }
    return text(placed, some, ink);
  }

  /** Where marks have numbers of their own, all else has letters: a number is always the same one's. */
  #nextKey(): string {
    if (!this.#marks.some(({ number }) => number !== undefined)) {
      return String(this.#numbered.length + 1);
    }
    const own = new Set(this.#marks.map(({ number }) => number));
    const count = this.#numbered.filter(({ key }) => !own.has(key)).length;
    const letter = String.fromCharCode(97 + (count % 26));
    return letter.repeat(1 + Math.floor(count / 26));
  }

  /** The stage's words on the edges, and metres along two of them. */
  #edges(): string {
    const { x0, x1, y0, y1 } = this.frame;
    const [left, right] = [this.#x(x0), this.#x(x1)];
    const [top, bottom] = [this.#y(y1), this.#y(y0)];
    const [middleX, middleY] = [(left + right) / 2, (top + bottom) / 2];
    const stepM = TICKS_M.find(one => one * this.perM >= LEAST_TICK_PX) ?? 50;
    const from = (least: number) => Math.ceil(least / stepM - 1e-9);
    const all = (least: number, most: number) =>
      Array.from(
        { length: Math.max(0, Math.floor(most / stepM + 1e-9) - from(least) + 1) },
        (_, i) => (from(least) + i) * stepM,
      );
    const quiet = `fill="${INK.quiet}"`;
    const tick = `stroke="${INK.quiet}" stroke-width="0.8"`;
    return [
      `<rect x="${fixed(left)}" y="${fixed(top)}" width="${fixed(right - left)}" height="${fixed(bottom - top)}" fill="none" stroke="${INK.line}"/>`,
      ...all(x0, x1).map(
        x =>
          `<path d="M${this.x(x)} ${fixed(bottom)}v4" ${tick}/><text x="${this.x(x)}" y="${fixed(bottom + 15)}" text-anchor="middle" font-size="11" ${quiet}>${x}</text>`,
      ),
      ...all(y0, y1).map(
        y =>
          `<path d="M${fixed(left)} ${this.y(y)}h-4" ${tick}/><text x="${fixed(left - 6)}" y="${fixed(this.#y(y) + 4)}" text-anchor="end" font-size="11" ${quiet}>${y}</text>`,
      ),
      `<text x="${fixed(middleX)}" y="13" text-anchor="middle">upstage</text>`,
      `<text x="${fixed(middleX)}" y="${fixed(this.high - 5)}" text-anchor="middle">downstage, audience; metres</text>`,
      `<text transform="translate(12 ${fixed(middleY)}) rotate(-90)" text-anchor="middle">stage right</text>`,
      `<text transform="translate(${fixed(this.wide - 12)} ${fixed(middleY)}) rotate(90)" text-anchor="middle">stage left</text>`,
    ].join('\n');
  }
}

/** Nothing of it is seen. */
function isThin(points: readonly PlanPoint[], least: number): boolean {
  if (points.length < 3) return true;
  const span = (all: readonly number[]) => Math.max(...all) - Math.min(...all);
  return span(points.map(([x]) => x)) < least || span(points.map(([, y]) => y)) < least;
}

/** Text on what is drawn, with a rim of paper. */
function text(
  { x, y, middleY }: Placed,
  lines: readonly string[],
  ink: string,
  upright = false,
): string {
  const rim = `text-anchor="middle" fill="${ink}" stroke="${INK.paper}" stroke-width="2.5" paint-order="stroke" stroke-linejoin="round"`;
  const written = lines
    .map(
      (line, i) =>
        `<text x="${fixed(x)}" y="${fixed(y + i * SIZE * LETTER_HEIGHT)}" ${rim}>${escaped(line)}</text>`,
    )
    .join('');
  return upright
    ? `<g transform="rotate(-90 ${fixed(x)} ${fixed(middleY)})">${written}</g>`
    : written;
}

/** Shapes of marks, about 0, 0. */
export const SHAPES = {
  /** A head that hangs: a ring with its yoke. */
  head: `<circle r="6" fill="${INK.paper}" stroke="${INK.text}" stroke-width="1.6"/><circle r="2.4" fill="${INK.text}"/>`,
  /** A fixture that doesn't move: a square. */
  fixed: `<rect x="-5" y="-5" width="10" height="10" fill="${INK.paper}" stroke="${INK.text}" stroke-width="1.6"/>`,
  unpatched: `<path d="M0 -6L6 0L0 6L-6 0z" fill="${INK.paper}" stroke="${INK.quiet}" stroke-width="1.4"/>`,
  light: `<circle r="4" fill="#d95f02" stroke="${INK.paper}"/>`,
  anchor: `<path d="M0 -6.5L6.5 5H-6.5z" fill="${INK.text}" stroke="${INK.paper}"/>`,
  cross: `<path d="M-5 -5L5 5M5 -5L-5 5" stroke="${INK.paper}" stroke-width="5"/><path d="M-5 -5L5 5M5 -5L-5 5" stroke="${INK.weak}" stroke-width="2.6"/>`,
} as const;

/** A number in a disc, of something that a list beside the picture tells. */
export function numbered(text: string, ink: string): { shape: string; half: number } {
  const half = Math.max(9, 5 + 5 * widthOf(text));
  return {
    half,
    shape: `<rect x="${-half}" y="-9" width="${2 * half}" height="18" rx="9" fill="${INK.paper}" stroke="${ink}" stroke-width="1.8"/><text y="4.5" text-anchor="middle" font-weight="700">${escaped(text)}</text>`,
  };
}

function fixed(value: number): string {
  return value.toFixed(1);
}
