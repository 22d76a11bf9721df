import { exitInWords, whoAsked } from '../../engine/events/event-words.js';
import type { EngineEvent } from '../../engine/events/events.js';
import type { EngineView } from '../../engine/view.js';
import type { OffStageTime, ReportedOffStage } from './report-data.js';
import { inWords } from './words.js';

type How = Pick<OffStageTime, 'exit' | 'exitLabel' | 'by'>;

const UNKNOWN: How = { exit: undefined, exitLabel: undefined, by: undefined };
/** A day of performers who come and go. */
const MOST_KEPT = 20_000;

/** When each performer was off stage, and how they left, in the order in which they left. */
export class OffStageTimes {
  readonly all: OffStageTime[] = [];
  readonly #open = new Map<string, number>();
  readonly #how = new Map<string, How>();

  constructor(private readonly exitLabel: (exit: string) => string) {}

  /** Notes how somebody left, if the events say so, also before the time that is counted. */
  told(events: readonly EngineEvent[]): void {
    for (const event of events) {
      if (event.kind !== 'off-stage') continue;
      const { performers, state, exit, cause } = event;
      // Restored, or gone after being sent off: how they left is known already.
      if (state === 'on' || cause === 'restored') continue;
      if (exit === undefined && cause === undefined) continue;
      const exitLabel = exit === undefined ? undefined : this.exitLabel(exit);
      const by = exit === undefined ? whoAsked(event) : undefined;
      for (const performer of performers) this.#how.set(performer, { exit, exitLabel, by });
    }
  }

  ticked({ performers }: EngineView, events: readonly EngineEvent[], nowS: number): void {
    this.told(events);
    for (const { name, phase } of performers) {
      const open = this.#open.get(name);
      if (phase === 'off') {
        if (open !== undefined || this.all.length >= MOST_KEPT) continue;
        this.#open.set(name, this.all.length);
        const how = this.#how.get(name) ?? UNKNOWN;
        this.all.push({ performer: name, fromS: nowS, untilS: undefined, ...how });
      } else if (open !== undefined) {
        this.all[open] = { ...(this.all[open] as OffStageTime), untilS: nowS };
        this.#open.delete(name);
      }
    }
  }
}

/** @param endS end of the show; what comes later is left out */
export function reportedOffStage(all: readonly OffStageTime[], endS: number): ReportedOffStage[] {
  return all
    .filter(({ fromS }) => fromS < endS)
    .map(one => {
      const untilS = one.untilS !== undefined && one.untilS <= endS ? one.untilS : undefined;
      return { ...one, untilS, forS: (untilS ?? endS) - one.fromS };
    });
}

/** "by the stage left wing", "sent off by cue storm" */
export function leftInWords({ exitLabel, by }: OffStageTime): string {
  if (exitLabel !== undefined) return `by ${exitInWords(exitLabel)}`;
  return by === undefined ? '' : `sent off by ${by}`;
}

/** "19.7 s", "2:03 min to the end" */
export function offStageFor({ forS, untilS }: ReportedOffStage): string {
  return `${inWords.duration(forS)}${untilS === undefined ? ' to the end' : ''}`;
}
