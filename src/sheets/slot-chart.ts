import { INK } from '../drawing/ink.js';
import { widthOf } from '../drawing/letters.js';
import { SLOTS_PER_UNIVERSE } from '../show/model/model.js';
import { escaped } from '../stage/markup.js';

const WIDTH = 480;
const ACROSS = 32;
const ROWS = SLOTS_PER_UNIVERSE / ACROSS;
const LEFT = 30;
const CELL = (WIDTH - LEFT - 2) / ACROSS;
const HIGH = 16;
const SIZE = 11;
/** Two shades in turn, so that neighbours are told apart, in grey too. */
const SHADES = ['#c4d8ea', '#8fb3d1'] as const;

/** Slots one after the other, counted from 1. */
export type Run = readonly [first: number, last: number];

export interface ChartedFixture {
  /** Of its line in the list below the chart. */
  readonly number: number;
  readonly label: string;
  readonly runs: readonly Run[];
}

/** The 512 slots of a universe, 32 a row: who has which, and what is free. */
export function slotChart(title: string, fixtures: readonly ChartedFixture[]): string {
  const parts: string[] = [];
  const x = (slot: number) => LEFT + ((slot - 1) % ACROSS) * CELL;
  const y = (slot: number) => Math.floor((slot - 1) / ACROSS) * HIGH + 2;
  for (let row = 0; row < ROWS; row++) {
    parts.push(
      `<text x="${LEFT - 5}" y="${row * HIGH + 14}" text-anchor="end" fill="${INK.quiet}">${row * ACROSS + 1}</text>`,
    );
  }
  parts.push(
    `<rect x="${LEFT}" y="2" width="${fixed(ACROSS * CELL)}" height="${ROWS * HIGH}" fill="${INK.paper}" stroke="${INK.quiet}"/>`,
  );
  fixtures.forEach(({ number, label, runs }, index) => {
    const pieces = runs.flatMap(piecesOf);
    const shade = SHADES[index % SHADES.length];
    const title = `<title>${escaped(`${number}: ${label}, slots ${runsText(runs)}`)}</title>`;
    const boxes = pieces.map(
      ([first, last]) =>
        `<rect x="${fixed(x(first))}" y="${y(first)}" width="${fixed((last - first + 1) * CELL)}" height="${HIGH}" fill="${shade}" stroke="${INK.text}" stroke-width="0.7"/>`,
    );
    const name = String(number);
    const room = pieces.find(([first, last]) => (last - first + 1) * CELL >= SIZE * widthOf(name));
    const words =
      room === undefined
        ? ''
        : `<text x="${fixed((x(room[0]) + x(room[1]) + CELL) / 2)}" y="${y(room[0]) + 12}" text-anchor="middle">${name}</text>`;
    parts.push(`<g>${title}${boxes.join('')}${words}</g>`);
  });
  const lines = [
    ...Array.from(
      { length: ACROSS - 1 },
      (_, i) => `M${fixed(LEFT + (i + 1) * CELL)} 2v${ROWS * HIGH}`,
    ),
    ...Array.from(
      { length: ROWS - 1 },
      (_, i) => `M${LEFT} ${(i + 1) * HIGH + 2}h${fixed(ACROSS * CELL)}`,
    ),
  ];
  parts.push(`<path d="${lines.join('')}" stroke="${INK.quiet}" stroke-width="0.3" fill="none"/>`);
  return `<svg class="floor" viewBox="0 0 ${WIDTH} ${ROWS * HIGH + 4}" role="img" aria-label="${escaped(title)}" font-family="inherit" font-size="${SIZE}" fill="${INK.text}">${parts.join('')}</svg>`;
}

/** "1 to 7, 40" */
export function runsText(runs: readonly Run[]): string {
  return runs
    .map(([first, last]) => (first === last ? String(first) : `${first} to ${last}`))
    .join(', ');
}

/** @param slots counted from 1 */
export function runsOf(slots: Iterable<number>): Run[] {
  const runs: [number, number][] = [];
  for (const slot of [...new Set(slots)].sort((a, b) => a - b)) {
    const last = runs.at(-1);
    if (last !== undefined && slot === last[1] + 1) last[1] = slot;
    else runs.push([slot, slot]);
  }
  return runs;
}

/** What of a run lies in each row. */
function piecesOf([first, last]: Run): Run[] {
  const pieces: Run[] = [];
  for (let from = first; from <= last; ) {
    const end = Math.min(last, Math.ceil(from / ACROSS) * ACROSS);
    pieces.push([from, end]);
    from = end + 1;
  }
  return pieces;
}

function fixed(value: number): string {
  return value.toFixed(1);
}
