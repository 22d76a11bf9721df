import { escaped, INK } from './html.js';
import type { LightDeeds } from './lights.js';
import { axisLabel, axisTicks } from './timeline.js';

const WIDTH = 1000;
const LEFT = 130;
const RIGHT = 12;
const ROW = 40;
const BAR = 30;
const AXIS = 24;

/** A row a light: its intensity over time, 0 to 100 per cent of the height of the row. */
export function courses(
  lights: readonly LightDeeds[],
  stepS: number,
  fromS: number,
  toS: number,
  at: (atS: number) => string,
): string {
  const across = (atS: number) =>
    LEFT + ((atS - fromS) / Math.max(1e-9, toS - fromS)) * (WIDTH - LEFT - RIGHT);
  const parts: string[] = [];
  const bottomOf = (row: number) => row * ROW + (ROW + BAR) / 2;
  lights.forEach(({ fixture, course }, row) => {
    const bottom = bottomOf(row);
    const points = course.map((value, i) => {
      const x = Math.min(WIDTH - RIGHT, across(fromS + i * stepS));
      return `${x.toFixed(1)},${(bottom - (value / 100) * BAR).toFixed(1)}`;
    });
    const end = across(fromS + (course.length - 1) * stepS).toFixed(1);
    parts.push(
      `<text x="${LEFT - 10}" y="${bottom - 9}" text-anchor="end" font-size="14">${escaped(fixture)}</text>`,
      `<rect x="${LEFT}" y="${bottom - BAR}" width="${WIDTH - LEFT - RIGHT}" height="${BAR}" fill="${INK.panel}"/>`,
      `<polygon points="${LEFT},${bottom} ${points.join(' ')} ${end},${bottom}" fill="#e3b34c"/>`,
    );
  });
  const axisTop = lights.length * ROW;
  for (const tick of axisTicks(fromS, toS)) {
    const x = across(tick).toFixed(1);
    parts.push(
      `<line x1="${x}" y1="0" x2="${x}" y2="${axisTop + 3}" stroke="${INK.line}" stroke-width="1"/>`,
      `<text x="${x}" y="${axisTop + 17}" text-anchor="middle" font-size="12" fill="${INK.quiet}">${escaped(axisLabel(at(tick)))}</text>`,
    );
  }
  return `<svg viewBox="0 0 ${WIDTH} ${axisTop + AXIS}" role="img" aria-label="intensity of each light" font-family="inherit" fill="${INK.text}">${parts.join('')}</svg>`;
}
