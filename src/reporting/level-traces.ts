import { INK } from '../drawing/ink.js';
import type { LightDeeds } from './lights.js';
import { acrossTime, overTime, ROW_LEFT, ROW_RIGHT, rowName } from './time-axis.js';

const ROW = 40;
const BAR = 30;

/** A row a light: its intensity over time, 0 to 100 per cent of the height of the row. */
export function levelTraces(
  lights: readonly LightDeeds[],
  stepS: number,
  fromS: number,
  toS: number,
  at: (atS: number) => string,
): string {
  const across = acrossTime(fromS, toS);
  const parts: string[] = [];
  const bottomOf = (row: number) => row * ROW + (ROW + BAR) / 2;
  lights.forEach(({ fixture, trace }, row) => {
    const bottom = bottomOf(row);
    const points = trace.map((value, i) => {
      const x = Math.min(ROW_RIGHT, across(fromS + i * stepS));
      return `${x.toFixed(1)},${(bottom - (value / 100) * BAR).toFixed(1)}`;
    });
    const end = across(fromS + (trace.length - 1) * stepS).toFixed(1);
    parts.push(
      rowName(fixture, bottom - 9),
      `<rect x="${ROW_LEFT}" y="${bottom - BAR}" width="${ROW_RIGHT - ROW_LEFT}" height="${BAR}" fill="${INK.panel}"/>`,
      `<polygon points="${ROW_LEFT},${bottom} ${points.join(' ')} ${end},${bottom}" fill="#e3b34c"/>`,
    );
  });
  return overTime('intensity of each light', lights.length * ROW, parts, fromS, toS, at);
}
