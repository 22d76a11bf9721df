import { INK } from '../drawing/ink.js';
import type { Show } from '../show/model.js';
import { escaped } from '../stage/markup.js';
import type { Cell } from './places.js';

const WIDTH = 640;
const MARGIN = 26;
/** A cell in which somebody was for less says nothing, seconds. */
const LEAST_S = 0.1;

/** Where a performer was lost, and how often. */
export interface MapMark {
  readonly x: number;
  readonly y: number;
  readonly letter: string;
  readonly count: number;
  readonly title: string;
}

/** The stage from above, upstage at the top and stage left at the right, as seen from the house. */
export function placeMap(
  show: Show,
  cells: readonly Cell[],
  cellM: number,
  marks: readonly MapMark[],
): string {
  const { min, max } = show.bounds;
  const perM = (WIDTH - 2 * MARGIN) / (max.x - min.x);
  const depth = (max.y - min.y) * perM;
  const height = depth + 2 * MARGIN;
  const px = (x: number) => (MARGIN + (x - min.x) * perM).toFixed(1);
  const py = (y: number) => (MARGIN + (max.y - y) * perM).toFixed(1);
  const parts: string[] = [];
  for (const { x, y, heldS, weakS } of cells) {
    if (heldS < LEAST_S) continue;
    const share = Math.min(1, weakS / heldS);
    const left = Math.max(min.x, x - cellM / 2);
    const top = Math.min(max.y, y + cellM / 2);
    const wide = (Math.min(max.x, x + cellM / 2) - left) * perM;
    const high = (top - Math.max(min.y, y - cellM / 2)) * perM;
    parts.push(
      `<rect x="${px(left)}" y="${py(top)}" width="${wide.toFixed(1)}" height="${high.toFixed(1)}" fill="${shade(share)}"><title>${heldS.toFixed(1)} s, weak for ${weakS.toFixed(1)} s</title></rect>`,
    );
  }
  parts.push(
    `<rect x="${MARGIN}" y="${MARGIN}" width="${WIDTH - 2 * MARGIN}" height="${depth.toFixed(1)}" fill="none" stroke="${INK.text}" stroke-width="1.5"/>`,
  );
  for (const { label, area, around } of show.zones) {
    // A map of an evening shows what stays.
    if (around !== undefined) continue;
    const { shape } = area;
    const outline = `fill="none" stroke="${INK.zone}" stroke-width="1.2" stroke-dasharray="5 4"`;
    const middle =
      shape.kind === 'circle'
        ? shape.centre
        : {
            x: shape.points.reduce((sum, [x]) => sum + x, 0) / shape.points.length,
            y: shape.points.reduce((sum, [, y]) => sum + y, 0) / shape.points.length,
          };
    parts.push(
      shape.kind === 'circle'
        ? `<circle cx="${px(middle.x)}" cy="${py(middle.y)}" r="${(shape.radiusM * perM).toFixed(1)}" ${outline}/>`
        : `<polygon points="${shape.points.map(([x, y]) => `${px(x)},${py(y)}`).join(' ')}" ${outline}/>`,
      `<text x="${px(middle.x)}" y="${py(middle.y)}" text-anchor="middle" font-size="13" fill="${INK.quiet}" stroke="#fff" stroke-width="3" paint-order="stroke">${escaped(label)}</text>`,
    );
  }
  for (const { x, y, letter, count, title } of marks) {
    const [cx, cy] = [px(clamp(x, min.x, max.x)), py(clamp(y, min.y, max.y))];
    const text = count > 1 ? `${letter} ${count}` : letter;
    const half = 6 + 3.6 * text.length;
    parts.push(
      `<rect x="${(Number(cx) - half).toFixed(1)}" y="${(Number(cy) - 10).toFixed(1)}" width="${(2 * half).toFixed(1)}" height="20" rx="10" fill="#fff" stroke="${INK.weak}" stroke-width="2.2"><title>${escaped(title)}</title></rect>`,
      `<text x="${cx}" y="${(Number(cy) + 4.5).toFixed(1)}" text-anchor="middle" font-size="12" font-weight="700">${escaped(text)}</text>`,
    );
  }
  parts.push(
    `<text x="${WIDTH / 2}" y="17" text-anchor="middle" font-size="13" fill="${INK.quiet}">upstage</text>`,
    `<text x="${WIDTH / 2}" y="${(height - 8).toFixed(1)}" text-anchor="middle" font-size="13" fill="${INK.quiet}">audience</text>`,
  );
  return `<svg viewBox="0 0 ${WIDTH} ${height.toFixed(1)}" role="img" aria-label="the stage from above" font-family="inherit" fill="${INK.text}">${parts.join('')}</svg>`;
}

export const MAP_KEY = [
  [shade(0), 'well tracked'],
  [shade(0.25), 'weak for a quarter of the time'],
  [shade(1), 'weak all the time'],
] as const;

/** From pale green over amber to red. */
function shade(share: number): string {
  const stops = [
    [221, 237, 229],
    [240, 190, 110],
    [181, 57, 44],
  ] as const;
  const s = Math.sqrt(share) * 2;
  const [from, to] = s < 1 ? [stops[0], stops[1]] : [stops[1], stops[2]];
  const part = s < 1 ? s : s - 1;
  const mixed = from.map((value, i) => Math.round(value + part * ((to[i] ?? 0) - value)));
  return `rgb(${mixed.join(' ')})`;
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}
