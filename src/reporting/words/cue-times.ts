import { whoAsked } from '../../engine/events/event-words.js';
import type { EngineEvent } from '../../engine/events/events.js';
import type { EngineView } from '../../engine/view.js';
import type { CueTime, ReportedCue } from './report-data.js';
import { inWords } from './words.js';

/** When each cue was on, in the order in which they came. */
export class CueTimes {
  readonly all: CueTime[] = [];

  /** Takes one tick; a cue that continues after an engine restart counts once. */
  ticked({ cue }: EngineView, events: readonly EngineEvent[], nowS: number): void {
    if (cue === undefined) return;
    const last = this.all.at(-1);
    if (last !== undefined) last.untilS = nowS;
    if (last?.cue === cue.name) return;
    const event = events.find(one => one.kind === 'cue');
    const by = event?.kind === 'cue' ? whoAsked(event) : undefined;
    this.all.push({ cue: cue.name, label: cue.label, fromS: nowS, untilS: nowS, by });
  }
}

/** @param endS end of the show; what comes later is left out */
export function reportedCues(
  all: readonly CueTime[],
  losses: readonly { readonly atS: number; readonly forS: number }[],
  endS: number,
): ReportedCue[] {
  return all
    .filter(({ fromS }) => fromS <= endS)
    .map(one => {
      const untilS = Math.min(one.untilS, endS);
      const lostS = losses.map(({ atS, forS }) =>
        Math.max(0, Math.min(atS + forS, untilS) - Math.max(atS, one.fromS)),
      );
      const began = losses.filter(({ atS }) => atS >= one.fromS && atS < untilS);
      return { ...one, untilS, losses: began.length, lostS: lostS.reduce((sum, s) => sum + s, 0) };
    });
}

/** "2 losses, 4.5 s lost for all together" */
export function lostInCue({ losses, lostS }: ReportedCue): string {
  if (lostS === 0) return 'nobody was lost';
  const began = losses === 0 ? 'a loss went on' : losses === 1 ? '1 loss' : `${losses} losses`;
  // The sum of several losses may be longer than the cue.
  const whose = losses > 1 ? ' for all together' : '';
  return `${began}, ${inWords.duration(lostS)} lost${whose}`;
}

export function cueAskedBy({ by }: CueTime): string {
  return by === undefined ? '' : `by ${by}`;
}
