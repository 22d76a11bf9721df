import { INK } from '../drawing/ink.js';
import { escaped } from '../stage/markup.js';

const WIDTH = 1000;
const AXIS = 24;

/** Where the rows of a picture over time begin and end; left of it stand their names. */
export const ROW_LEFT = 130;
export const ROW_RIGHT = WIDTH - 12;

/** The place of a time from left to right. */
export function acrossTime(fromS: number, toS: number): (atS: number) => number {
  return atS => ROW_LEFT + ((atS - fromS) / Math.max(1e-9, toS - fromS)) * (ROW_RIGHT - ROW_LEFT);
}

/** The name of a row, `y` its base line. */
export function rowName(name: string, y: number): string {
  const shown = name.length > MOST_LETTERS ? `${name.slice(0, MOST_LETTERS - 1).trimEnd()}…` : name;
  const title = shown === name ? '' : `<title>${escaped(name)}</title>`;
  return `<text x="${ROW_LEFT - 10}" y="${y}" text-anchor="end" font-size="14">${title}${escaped(shown)}</text>`;
}

/** At 14 px a letter is some 7 px wide: more would begin left of the picture, and be cut there. */
const MOST_LETTERS = 17;

/**
 * A picture of rows over time, with the times below them.
 * @param height of all rows
 * @param parts what is in them
 */
export function overTime(
  label: string,
  height: number,
  parts: readonly string[],
  fromS: number,
  toS: number,
  at: (atS: number) => string,
): string {
  const across = acrossTime(fromS, toS);
  const axis = axisTicks(fromS, toS).flatMap(tick => {
    const x = across(tick).toFixed(1);
    return [
      `<line x1="${x}" y1="0" x2="${x}" y2="${height + 3}" stroke="${INK.line}" stroke-width="1"/>`,
      `<text x="${x}" y="${height + 17}" text-anchor="middle" font-size="12" fill="${INK.quiet}">${escaped(axisLabel(at(tick)))}</text>`,
    ];
  });
  const all = [...parts, ...axis].join('');
  return `<svg viewBox="0 0 ${WIDTH} ${height + AXIS}" role="img" aria-label="${label}" font-family="inherit" fill="${INK.text}">${all}</svg>`;
}

/** Round times need no tenths. */
function axisLabel(text: string): string {
  return text.replace(/\.0$/, '');
}

const STEPS_S = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400];
const MOST_TICKS = 9;

/** Round times from the beginning. */
function axisTicks(fromS: number, toS: number): number[] {
  const length = toS - fromS;
  const step = STEPS_S.find(one => length / one <= MOST_TICKS) ?? Math.ceil(length / MOST_TICKS);
  const ticks: number[] = [];
  for (let atS = fromS; atS <= toS; atS += step) ticks.push(atS);
  return ticks;
}
