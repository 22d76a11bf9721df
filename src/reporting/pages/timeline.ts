import { INK } from '../../drawing/ink.js';
import {
  ACROSS,
  acrossTime,
  type StripMark,
  type StripTime,
  strips,
} from '../../drawing/strips.js';
import { escaped } from '../../stage/markup.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Stretch } from '../measures/performer-statistics.js';
import type { LossGroup } from '../words/loss-groups.js';

const HIGH = 16;
/** Least width of a stretch: a narrower one can't be seen, though it may be the one that matters. */
const LEAST_WIDTH = 2;

export interface TimelineRow {
  readonly label: string;
  readonly stretches: readonly Stretch[];
}

/** One row for each performer: when their light followed them, and when it didn't; losses have their numbers in the list. */
export function timeline(
  rows: readonly TimelineRow[],
  losses: readonly LossGroup[],
  time: StripTime,
): string {
  const across = acrossTime(time);
  return strips(
    'when each performer was followed',
    rows.map(({ label, stretches }) => {
      const parts = [bar(0, ACROSS, INK.waiting)];
      // Losses are drawn last, so that a short one isn't painted over.
      const ordered = [...stretches].sort((a, b) => weight(a) - weight(b));
      for (const { phase, fromS, toS } of ordered) {
        if (phase === 'waiting' || toS < time.fromS || fromS > time.toS) continue;
        const title = `${WORDS[phase]}, ${time.at(fromS)} to ${time.at(toS)}`;
        parts.push(bar(across(fromS), across(toS), inkOf(phase), title));
      }
      const marks = marksOf(label, losses, time);
      return {
        ...{ name: label, highPx: HIGH, body: parts.join('') },
        ...(marks.length === 0 ? {} : { marks }),
      };
    }),
    time,
  );
}

function marksOf(label: string, losses: readonly LossGroup[], { toS, at }: StripTime): StripMark[] {
  return losses.flatMap(({ atS, performers, why }, i) =>
    performers.includes(label) && atS <= toS
      ? [{ atS, text: String(i + 1), title: `${at(atS)}: ${why}` }]
      : [],
  );
}

export const TIMELINE_KEY = [
  [INK.followed, 'followed'],
  [INK.returning, 'returning'],
  [INK.fading, 'fading to safe values'],
  [INK.safe, 'at safe values'],
  [INK.noEngine, 'no engine, or its light is not used'],
  [INK.offStage, 'off stage'],
  [INK.waiting, 'not followed yet'],
] as const;

const WORDS: Readonly<Record<Stretch['phase'], string>> = {
  live: 'followed',
  returning: 'returning',
  losing: 'fading to safe values',
  rearming: 'tracked again, not yet trusted',
  safe: 'at safe values',
  waiting: 'not followed yet',
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

function bar(from: number, to: number, ink: string, title?: string): string {
  const width = Math.max(LEAST_WIDTH, to - from);
  const inner = title === undefined ? '' : `<title>${escaped(title)}</title>`;
  return `<rect x="${from.toFixed(1)}" y="0" width="${width.toFixed(1)}" height="${HIGH}" fill="${ink}">${inner}</rect>`;
}
