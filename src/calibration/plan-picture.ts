import { Floor, SHAPES } from '../drawing/floor.js';
import { INK as PAPER } from '../drawing/ink.js';
import { SvgPage } from '../drawing/svg-page.js';
import { escaped } from '../stage/markup.js';
import type { Bounds } from '../stage/vector.js';

/** A place on the plan, and how far off it the fit puts it, stage frame, metres. */
export interface Miss {
  readonly label: string;
  readonly x: number;
  readonly y: number;
  /** From the place to where the fit puts it, across the floor. */
  readonly dx: number;
  readonly dy: number;
  readonly kind: 'used' | 'check' | 'doubtful';
}

/** An outline on the plan, as points, metres. */
export interface Ring {
  readonly points: readonly (readonly [x: number, y: number])[];
  readonly label: string;
}

/** A cell of a map over the floor, shaded by its value. */
export interface Cell {
  readonly x: number;
  readonly y: number;
  readonly widthM: number;
  readonly depthM: number;
  /** 0 (light) to 1 (dark). */
  readonly shade: number;
}

export interface PlanPicture {
  readonly title: string;
  readonly lines: readonly string[];
  readonly bounds: Bounds;
  readonly misses: readonly Miss[];
  readonly heads?: readonly { readonly label: string; readonly x: number; readonly y: number }[];
  readonly rings?: readonly Ring[];
  readonly cells?: readonly Cell[];
  readonly wishes?: readonly { readonly label: string; readonly x: number; readonly y: number }[];
}

const WIDTH = 480;
const MARGIN = 8;
const INK = { ...PAPER, used: '#0b6e6e', check: '#7a3fa0', doubtful: '#c0392b' };
/** Arrows are enlarged until the longest has about this share of the stage's width. */
const LONGEST_SHARE = 0.1;

/**
 * The stage from above, the audience at the bottom, with an arrow from each place to where the fit puts it. The
 * arrows are enlarged by a factor that is written below. One self-contained SVG, legible on a phone.
 */
export function planPicture(picture: PlanPicture): string {
  const { bounds, misses, heads = [], rings = [], cells = [], wishes = [] } = picture;
  const longest = Math.max(0, ...misses.map(one => Math.hypot(one.dx, one.dy)));
  const larger = niceBelow(
    (LONGEST_SHARE * (bounds.max.x - bounds.min.x)) / Math.max(longest, 1e-6),
  );
  const tip = ({ x, y, dx, dy }: Miss) => ({ x: x + larger * dx, y: y + larger * dy });
  const places = [...misses, ...misses.map(tip), ...heads, ...wishes];
  const floor = new Floor({ bounds, places, wide: WIDTH - 2 * MARGIN });
  for (const { x, y, widthM, depthM, shade } of cells) {
    const left = floor.x(x - widthM / 2);
    const top = floor.y(y + depthM / 2);
    const [wide, high] = [widthM, depthM].map(one => (one * floor.perM + 0.3).toFixed(1));
    floor.draw(
      `<rect x="${left}" y="${top}" width="${wide}" height="${high}" fill="#e0a030" fill-opacity="${(0.05 + 0.6 * shade).toFixed(2)}"/>`,
    );
  }
  floor.stage();
  for (const { points, label } of rings) {
    floor.draw(
      `<polygon points="${floor.points(points)}" fill="${INK.used}" fill-opacity="0.12" stroke="${INK.used}"><title>${escaped(label)}</title></polygon>`,
    );
  }
  for (const one of heads) {
    floor.mark({
      at: one,
      shape: SHAPES.head,
      half: 7,
      lines: one.label.split(', '),
      title: one.label,
    });
  }
  for (const one of misses) {
    const ink = INK[one.kind];
    const to = tip(one);
    floor.draw(
      `<path d="M${floor.x(one.x)} ${floor.y(one.y)}L${floor.x(to.x)} ${floor.y(to.y)}" stroke="${ink}" stroke-width="2"/>`,
    );
    const dot = `<circle r="2.5" fill="${ink}"/>`;
    floor.mark({ at: to, shape: dot, half: 3, lines: [], title: one.label });
    const shape = `<circle r="5" fill="none" stroke="${ink}" stroke-width="2"/>`;
    floor.mark({ at: one, shape, half: 6, lines: [one.label], title: one.label, ink });
  }
  for (const one of wishes) {
    const shape = `<path d="M-6 -6l12 12m0 -12l-12 12" stroke="${INK.check}" stroke-width="2"/>`;
    const title = `another sample here, ${one.label}`;
    floor.mark({ at: one, shape, half: 7, lines: [one.label], title, ink: INK.check });
  }
  const sheet = new SvgPage(WIDTH, MARGIN);
  sheet.write(picture.title, { size: 15, bold: true });
  for (const line of picture.lines) sheet.write(line);
  sheet.y += 8;
  sheet.place(floor.svg(picture.title), MARGIN, sheet.y, floor.wide, floor.high);
  sheet.y += floor.high;
  if (longest > 0) sheet.write(`Arrows are ${larger} times as long as what they show.`);
  if (floor.numbered.length > 0) sheet.write(`Numbers: ${floor.numbered.join('; ')}.`);
  return sheet.svg(picture.title);
}

/** 1, 2 or 5 times a power of ten, not above the value, and at least 1. */
function niceBelow(value: number): number {
  const power = 10 ** Math.floor(Math.log10(Math.max(1, Math.min(value, 1000))));
  const step = [5, 2, 1].find(one => one * power <= value) ?? 1;
  return step * power;
}

/** In millimetres, as on a tape. */
export function millimetres(valueM: number): string {
  return `${Math.round(1000 * valueM)} mm`;
}
