import { escaped } from '../stage/markup.js';
import type { Bounds } from '../stage/vector.js';

/** A place on the plan and where it really came to lie, metres. */
export interface Miss {
  readonly label: string;
  readonly x: number;
  readonly y: number;
  /** From the place to where it came to lie, on the floor. */
  readonly dx: number;
  readonly dy: number;
  readonly kind: 'used' | 'check' | 'doubtful';
}

/** A ring on the plan, as points, metres. */
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

const WIDTH = 900;
const MARGIN = 50;
const LINE = 16;
const INK = { used: '#0b6e6e', check: '#7a3fa0', doubtful: '#c0392b', stage: '#444', text: '#222' };
/** Arrows are drawn larger than they are, so that the longest is this much of the stage's width. */
const LONGEST_SHARE = 0.1;

/**
 * The stage from above, the audience below, with an arrow from each place to where it came to lie, drawn
 * larger by a factor that is written beside it. One SVG that needs nothing else.
 */
export function planPicture(picture: PlanPicture): string {
  const { bounds, misses, heads = [], rings = [], cells = [], wishes = [] } = picture;
  const places = [...misses, ...heads, ...wishes];
  const xs = [bounds.min.x, bounds.max.x, ...places.map(one => one.x)];
  const ys = [bounds.min.y, bounds.max.y, ...places.map(one => one.y)];
  const [x0, x1] = [Math.min(...xs) - 0.5, Math.max(...xs) + 0.5];
  const [y0, y1] = [Math.min(...ys) - 0.5, Math.max(...ys) + 0.5];
  const perMetre = (WIDTH - 2 * MARGIN) / (x1 - x0);
  const top = MARGIN + LINE * (picture.lines.length + 1);
  const across = (x: number) => MARGIN + (x - x0) * perMetre;
  const down = (y: number) => top + (y1 - y) * perMetre;
  const height = down(y0) + MARGIN + LINE;
  const longest = Math.max(0, ...misses.map(one => Math.hypot(one.dx, one.dy)));
  const larger = niceBelow((LONGEST_SHARE * (x1 - x0)) / Math.max(longest, 1e-6));
  const place = (x: number, y: number) => `${fixed(across(x))},${fixed(down(y))}`;

  const shapes = [
    ...cells.map(
      ({ x, y, widthM, depthM, shade }) =>
        `<rect x="${fixed(across(x - widthM / 2))}" y="${fixed(down(y + depthM / 2))}" width="${fixed(widthM * perMetre + 0.3)}" height="${fixed(depthM * perMetre + 0.3)}" fill="#e0a030" fill-opacity="${(0.05 + 0.6 * shade).toFixed(2)}"/>`,
    ),
    `<rect x="${fixed(across(bounds.min.x))}" y="${fixed(down(bounds.max.y))}" width="${fixed((bounds.max.x - bounds.min.x) * perMetre)}" height="${fixed((bounds.max.y - bounds.min.y) * perMetre)}" fill="none" stroke="${INK.stage}" stroke-width="1.5"/>`,
    ...rings.map(
      ring =>
        `<polygon points="${ring.points.map(([x, y]) => place(x, y)).join(' ')}" fill="${INK.used}" fill-opacity="0.12" stroke="${INK.used}"><title>${escaped(ring.label)}</title></polygon>`,
    ),
    ...heads.map(
      one =>
        `<circle cx="${fixed(across(one.x))}" cy="${fixed(down(one.y))}" r="6" fill="${INK.stage}"/><text x="${fixed(across(one.x) + 9)}" y="${fixed(down(one.y) - 8)}">${escaped(one.label)}</text>`,
    ),
    ...wishes.map(
      one =>
        `<path d="M${place(one.x, one.y)}m-7,-7l14,14m0,-14l-14,14" stroke="${INK.check}" stroke-width="2"/><text x="${fixed(across(one.x) + 10)}" y="${fixed(down(one.y) + 16)}" fill="${INK.check}">${escaped(one.label)}</text>`,
    ),
    ...misses.map(one => {
      const ink = INK[one.kind];
      const [tx, ty] = [one.x + larger * one.dx, one.y + larger * one.dy];
      return [
        `<circle cx="${fixed(across(one.x))}" cy="${fixed(down(one.y))}" r="5" fill="none" stroke="${ink}" stroke-width="2"/>`,
        `<path d="M${place(one.x, one.y)}L${place(tx, ty)}" stroke="${ink}" stroke-width="2"/>`,
        `<circle cx="${fixed(across(tx))}" cy="${fixed(down(ty))}" r="2.5" fill="${ink}"/>`,
        `<text x="${fixed(across(one.x) + 9)}" y="${fixed(down(one.y) - 7)}" fill="${ink}">${escaped(one.label)}</text>`,
      ].join('');
    }),
  ];
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${fixed(height)}" font-family="sans-serif" font-size="12" fill="${INK.text}">`,
    `<title>${escaped(picture.title)}</title>`,
    `<rect width="${WIDTH}" height="${fixed(height)}" fill="#fff"/>`,
    `<text x="${MARGIN}" y="24" font-size="15" font-weight="bold">${escaped(picture.title)}</text>`,
    ...picture.lines.map(
      (line, i) => `<text x="${MARGIN}" y="${44 + LINE * i}">${escaped(line)}</text>`,
    ),
    ...shapes,
    `<path d="M${MARGIN},${fixed(height - 20)}h${fixed(perMetre)}" stroke="${INK.text}" stroke-width="2"/>`,
    `<text x="${fixed(MARGIN + perMetre + 8)}" y="${fixed(height - 16)}">1 m${longest > 0 ? `; arrows ${larger} times as long as they are` : ''}</text>`,
    `<text x="${WIDTH / 2}" y="${fixed(down(y0) + 22)}" text-anchor="middle">audience</text>`,
    '</svg>',
    '',
  ].join('\n');
}

/** 1, 2 or 5 times a power of ten, not above the value, and at least 1. */
function niceBelow(value: number): number {
  const power = 10 ** Math.floor(Math.log10(Math.max(1, Math.min(value, 1000))));
  const step = [5, 2, 1].find(one => one * power <= value) ?? 1;
  return step * power;
}

function fixed(value: number): string {
  return value.toFixed(1);
}
