import type { LossCause } from '../causes/causes.js';
import { withoutLengths } from './lasting-cause.js';
import type { Report } from './report-data.js';
import { inWords, lossInWords } from './words.js';

type ReportedLoss = Report['losses'][number];

/** Losses of several performers that have one cause. */
export interface LossGroup {
  readonly atS: number;
  /** Their labels. */
  readonly performers: readonly string[];
  /** "3.0 s", "3.0 to 4.5 s", "2:03 min to the end". */
  readonly forS: string;
  readonly longestS: number;
  readonly cause: LossCause;
  readonly why: string;
  /** The place, if they were all lost in one. */
  readonly place: string | undefined;
}

/** Losses that begin within this time may have one cause, seconds. */
const AT_ONCE_S = 0.3;
/** They come back one after the other, each once tracked well: within this time it is one loss, seconds. */
const BACK_TOGETHER_S = 3;

/** Groups in order of time: losses that began together, for one reason, and ended at about the same time. */
export function lossGroups({ losses, performers }: Report): LossGroup[] {
  const groups: ReportedLoss[][] = [];
  for (const loss of [...losses].sort((a, b) => a.atS - b.atS)) {
    const group = groups.findLast(([first]) => first !== undefined && isOneWith(first, loss));
    if (group === undefined) groups.push([loss]);
    else group.push(loss);
  }
  const label = (name: string) => performers.find(one => one.name === name)?.label ?? name;
  return groups.map(group => {
    const [first] = group as [ReportedLoss];
    const lengths = group.map(({ forS }) => forS);
    const places = new Set(group.map(({ place }) => place));
    return {
      atS: first.atS,
      performers: group.map(({ performer }) => label(performer)),
      forS: `${rangeInWords(Math.min(...lengths), Math.max(...lengths))}${first.untilS === undefined ? ' to the end' : ''}`,
      longestS: Math.max(...lengths),
      cause: first.cause,
      why: first.why,
      place: places.size === 1 ? first.place : undefined,
    };
  });
}

function isOneWith(first: ReportedLoss, loss: ReportedLoss): boolean {
  if (loss.performer === first.performer) return false;
  if (withoutLengths(loss.why) !== withoutLengths(first.why)) return false;
  if (loss.atS - first.atS > AT_ONCE_S) return false;
  const { untilS } = first;
  if (untilS === undefined || loss.untilS === undefined) return untilS === loss.untilS;
  return Math.abs(loss.untilS - untilS) <= BACK_TOGETHER_S;
}

function rangeInWords(leastS: number, mostS: number): string {
  const [least, most] = [inWords.duration(leastS), inWords.duration(mostS)];
  if (least === most) return most;
  // Write the unit once if both have the same.
  const unit = most.slice(most.lastIndexOf(' '));
  return `${least.endsWith(unit) ? least.slice(0, -unit.length) : least} to ${most}`;
}

/** Why, and where if it was one place. */
export function groupInWords({ why, place }: LossGroup): string {
  return place === undefined ? why : lossInWords({ why, place });
}
