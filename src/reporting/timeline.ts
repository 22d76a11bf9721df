import { unreachable } from '../stage/unreachable.js';
import type { Stretch } from './account.js';
import { escaped, INK } from './html.js';

const WIDTH = 1000;
const LEFT = 130;
const RIGHT = 12;
const ROW = 26;
const BAR = 16;
const AXIS = 24;
/** Narrower than this nobody sees it, though it may be what matters. */
const LEAST_WIDTH = 1.5;

export interface TimelineRow {
  readonly label: string;
  readonly stretches: readonly Stretch[];
}

/** A row a performer: when their light followed them, and when it did not. */
export function timeline(
  rows: readonly TimelineRow[],
  fromS: number,
  toS: number,
  at: (atS: number) => string,
): string {
  const across = (atS: number) =>
    LEFT + ((atS - fromS) / Math.max(1e-9, toS - fromS)) * (WIDTH - LEFT - RIGHT);
  const height = rows.length * ROW + AXIS;
  const parts: string[] = [];
  rows.forEach(({ label, stretches }, row) => {
    const top = row * ROW + (ROW - BAR) / 2;
    parts.push(
      `<text x="${LEFT - 10}" y="${top + BAR - 3}" text-anchor="end" font-size="14">${escaped(label)}</text>`,
      bar(LEFT, WIDTH - RIGHT, top, INK.waiting),
    );
    // What was lost lies on top, so that a second of it is not painted over.
    const ordered = [...stretches].sort((a, b) => weight(a) - weight(b));
    for (const stretch of ordered) {
      if (stretch.phase === 'waiting') continue;
      const title = `${WORDS[stretch.phase]}, ${at(stretch.fromS)} to ${at(stretch.toS)}`;
      parts.push(bar(across(stretch.fromS), across(stretch.toS), top, inkOf(stretch.phase), title));
    }
  });
  const axisTop = rows.length * ROW;
  for (const tick of axisTicks(fromS, toS)) {
    const x = across(tick).toFixed(1);
    parts.push(
      `<line x1="${x}" y1="0" x2="${x}" y2="${axisTop + 3}" stroke="${INK.line}" stroke-width="1"/>`,
      `<text x="${x}" y="${axisTop + 17}" text-anchor="middle" font-size="12" fill="${INK.quiet}">${escaped(axisLabel(at(tick)))}</text>`,
    );
  }
  return `<svg viewBox="0 0 ${WIDTH} ${height}" role="img" aria-label="when each performer was followed" font-family="inherit" fill="${INK.text}">${parts.join('')}</svg>`;
}

export const TIMELINE_KEY = [
  [INK.followed, 'followed'],
  [INK.returning, 'returning'],
  [INK.fading, 'fading to safe values'],
  [INK.safe, 'at safe values'],
  [INK.noEngine, 'no engine'],
  [INK.waiting, 'not heard yet'],
] as const;

const WORDS: Readonly<Record<Stretch['phase'], string>> = {
  live: 'followed',
  returning: 'returning',
  losing: 'fading to safe values',
  rearming: 'tracked again, not yet trusted',
  safe: 'at safe values',
  waiting: 'not heard yet',
  'no engine': 'no engine',
};

function inkOf(phase: Stretch['phase']): string {
  switch (phase) {
    case 'live':
      return INK.followed;
    case 'returning':
      return INK.returning;
    case 'losing':
      return INK.fading;
    case 'rearming':
    case 'safe':
      return INK.safe;
    case 'no engine':
      return INK.noEngine;
    case 'waiting':
      return INK.waiting;
    default:
      return unreachable(phase);
  }
}

function weight({ phase }: Stretch): number {
  return ['waiting', 'live', 'returning', 'rearming', 'safe', 'no engine', 'losing'].indexOf(phase);
}

function bar(from: number, to: number, top: number, ink: string, title?: string): string {
  const width = Math.max(LEAST_WIDTH, to - from);
  const inner = title === undefined ? '' : `<title>${escaped(title)}</title>`;
  return `<rect x="${from.toFixed(1)}" y="${top}" width="${width.toFixed(1)}" height="${BAR}" fill="${ink}">${inner}</rect>`;
}

/** Round times need no tenths. */
export function axisLabel(text: string): string {
  return text.replace(/\.0$/, '');
}

const STEPS_S = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400];
const MOST_TICKS = 9;

/** Round times from the beginning. */
export function axisTicks(fromS: number, toS: number): number[] {
  const length = toS - fromS;
  const step = STEPS_S.find(one => length / one <= MOST_TICKS) ?? Math.ceil(length / MOST_TICKS);
  const ticks: number[] = [];
  for (let atS = fromS; atS <= toS; atS += step) ticks.push(atS);
  return ticks;
}
