import { INK } from '../drawing/ink.js';
import { escaped } from '../stage/markup.js';
import { unreachable } from '../stage/unreachable.js';
import type { Stretch } from './performer-statistics.js';
import { acrossTime, overTime, ROW_LEFT, ROW_RIGHT, rowName } from './time-axis.js';

const ROW = 26;
const BAR = 16;
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
  const across = acrossTime(fromS, toS);
  const parts: string[] = [];
  rows.forEach(({ label, stretches }, row) => {
    const top = row * ROW + (ROW - BAR) / 2;
    parts.push(rowName(label, top + BAR - 3), bar(ROW_LEFT, ROW_RIGHT, top, INK.waiting));
    // What was lost lies on top, so that a second of it is not painted over.
    const ordered = [...stretches].sort((a, b) => weight(a) - weight(b));
    for (const stretch of ordered) {
      if (stretch.phase === 'waiting') continue;
      const title = `${WORDS[stretch.phase]}, ${at(stretch.fromS)} to ${at(stretch.toS)}`;
      parts.push(bar(across(stretch.fromS), across(stretch.toS), top, inkOf(stretch.phase), title));
    }
  });
  return overTime('when each performer was followed', rows.length * ROW, parts, fromS, toS, at);
}

export const TIMELINE_KEY = [
  [INK.followed, 'followed'],
  [INK.returning, 'returning'],
  [INK.fading, 'fading to safe values'],
  [INK.safe, 'at safe values'],
  [INK.noEngine, 'no engine, or its light not on the stage'],
  [INK.offStage, 'off stage'],
  [INK.waiting, 'not heard yet'],
] as const;

const WORDS: Readonly<Record<Stretch['phase'], string>> = {
  live: 'followed',
  returning: 'returning',
  losing: 'fading to safe values',
  rearming: 'tracked again, not yet trusted',
  safe: 'at safe values',
  waiting: 'not heard yet',
  off: 'off stage',
  'no engine': 'no engine',
  held: 'all light at the safe look, or none sent',
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
    case 'held':
      return INK.noEngine;
    case 'off':
      return INK.offStage;
    case 'waiting':
      return INK.waiting;
    default:
      return unreachable(phase);
  }
}

function weight({ phase }: Stretch): number {
  return [
    'waiting',
    'off',
    'live',
    'returning',
    'rearming',
    'safe',
    'no engine',
    'held',
    'losing',
  ].indexOf(phase);
}

function bar(from: number, to: number, top: number, ink: string, title?: string): string {
  const width = Math.max(LEAST_WIDTH, to - from);
  const inner = title === undefined ? '' : `<title>${escaped(title)}</title>`;
  return `<rect x="${from.toFixed(1)}" y="${top}" width="${width.toFixed(1)}" height="${BAR}" fill="${ink}">${inner}</rect>`;
}
