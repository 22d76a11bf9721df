import { escaped } from '../../stage/markup.js';

/** An axis of a chart; the pictures of an assessment are charts with two axes, as SVG. */
export interface Axis {
  readonly label: string;
  readonly low: number;
  readonly high: number;
  readonly isLogarithmic?: boolean;
  readonly marks: readonly number[];
}

export interface Chart {
  readonly title: string;
  readonly across: Axis;
  readonly up: Axis;
  /** SVG inside the frame, drawn with the scales. */
  draw(scale: Scale): string;
}

export interface Scale {
  x(value: number): number;
  y(value: number): number;
}

const WIDTH = 560;
const HEIGHT = 380;
const ROOM = { left: 62, right: 18, top: 40, bottom: 46 };

/** Charts side by side in one picture. */
export function drawCharts(charts: readonly Chart[]): string {
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH * charts.length} ${HEIGHT}" font-family="sans-serif" font-size="12">`,
    `<title>${escaped(charts.map(({ title }) => title).join('; '))}</title>`,
    `<rect width="${WIDTH * charts.length}" height="${HEIGHT}" fill="#fff"/>`,
    ...charts.map((chart, i) => one(chart, i * WIDTH)),
    '</svg>',
    '',
  ].join('\n');
}

function one({ title, across, up, draw }: Chart, leftEdge: number): string {
  const [left, right] = [leftEdge + ROOM.left, leftEdge + WIDTH - ROOM.right];
  const [top, bottom] = [ROOM.top, HEIGHT - ROOM.bottom];
  const x = scaleOf(across, left, right);
  const y = scaleOf(up, bottom, top);
  const acrossMarks = across.marks.map(
    mark =>
      `<line x1="${fixed(x(mark))}" x2="${fixed(x(mark))}" y1="${top}" y2="${bottom}" stroke="#e6e6e6"/>` +
      `<text x="${fixed(x(mark))}" y="${bottom + 16}" text-anchor="middle">${mark}</text>`,
  );
  const upMarks = up.marks.map(
    mark =>
      `<line x1="${left}" x2="${right}" y1="${fixed(y(mark))}" y2="${fixed(y(mark))}" stroke="#e6e6e6"/>` +
      `<text x="${left - 6}" y="${fixed(y(mark) + 4)}" text-anchor="end">${mark}</text>`,
  );
  return [
    ...acrossMarks,
    ...upMarks,
    `<rect x="${left}" y="${top}" width="${right - left}" height="${bottom - top}" fill="none" stroke="#bbb"/>`,
    `<text x="${left}" y="18" font-weight="bold">${escaped(title)}</text>`,
    `<text x="${left}" y="${top - 6}">${escaped(up.label)}</text>`,
    `<text x="${(left + right) / 2}" y="${HEIGHT - 10}" text-anchor="middle">${escaped(across.label)}</text>`,
    draw({ x, y }),
  ].join('\n');
}

function scaleOf(axis: Axis, from: number, to: number): (value: number) => number {
  const of = axis.isLogarithmic === true ? Math.log : (value: number) => value;
  const [low, high] = [of(axis.low), of(axis.high)];
  return value => from + ((of(value) - low) / (high - low || 1)) * (to - from);
}

/** Round numbers (1, 2, 5 times powers of ten) from `low` to `high`. */
export function roundMarks(low: number, high: number): readonly number[] {
  const marks: number[] = [];
  for (let power = Math.floor(Math.log10(low)); power <= Math.log10(high); power++) {
    for (const digit of [1, 2, 5]) {
      const mark = Number(`${digit}e${power}`);
      if (mark >= low && mark <= high) marks.push(mark);
    }
  }
  return marks;
}

/** `count` + 1 marks at equal distances, rounded to two digits after the point. */
export function evenMarks(low: number, high: number, count: number): readonly number[] {
  return Array.from({ length: count + 1 }, (_, i) =>
    Number((low + (i * (high - low)) / count).toFixed(2)),
  );
}

export function polyline(
  points: readonly (readonly [number, number])[],
  ink: string,
  dashes = '',
): string {
  const path = points.map(([x, y]) => `${fixed(x)},${fixed(y)}`).join(' ');
  const dashed = dashes === '' ? '' : ` stroke-dasharray="${dashes}"`;
  return `<polyline points="${path}" fill="none" stroke="${ink}" stroke-width="1.5"${dashed}/>`;
}

/** @param hint shown where the pointer rests */
export function dot(x: number, y: number, radius: number, ink: string, hint: string): string {
  return `<circle cx="${fixed(x)}" cy="${fixed(y)}" r="${fixed(radius)}" fill="${ink}"><title>${escaped(hint)}</title></circle>`;
}

export function label(x: number, y: number, text: string, ink: string, anchor = 'start'): string {
  return `<text x="${fixed(x)}" y="${fixed(y)}" fill="${ink}" text-anchor="${anchor}">${escaped(text)}</text>`;
}

function fixed(value: number): string {
  return value.toFixed(1);
}
