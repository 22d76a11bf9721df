import type { EngineCounters } from './engine-link.js';

/** What makes even a fast machine late. */
export const LATE_CAUSES = ['daemon-stood-still', 'engine-stood-still', 'engine-started'] as const;
export type LateCause = (typeof LATE_CAUSES)[number];

export type LatenessEvent =
  /** Ticks that began a period late or more, at most one event in ten seconds. */
  | {
      readonly kind: 'ticks-late';
      readonly late: number;
      readonly inS: number;
      /** What happened meanwhile; missing: nothing, so it is the machine. */
      readonly because?: LateCause;
    }
  /**
   * What did not get from the engine to the supervisor: sections of frames that came after their time, frames
   * that were not handed over because the one before was still in the pipe, and messages for which it had no room.
   */
  | {
      readonly kind: 'frames-lost';
      readonly late: number;
      readonly skipped: number;
      readonly messages: number;
      readonly inS: number;
      readonly because?: LateCause;
    };

/** A tenth of the ticks at 40 a second. */
const MANY_LATE = 4;
const REPORTED_EVERY_S = 10;
/** What came with it is told with the next report, which may be a second late itself. */
const NOTED_FOR_S = REPORTED_EVERY_S + 2;

type Counted = Pick<EngineCounters, 'lateTicks' | 'framesSkipped' | 'messagesDropped'>;

/** What a machine that is too slow, or busy, shows first: told of at once, and then every ten seconds. */
export class Lateness {
  #before: Counted | undefined;
  #lateFrames = 0;
  #ticks = 0;
  #skipped = 0;
  #messages = 0;
  #ticksSaidS = Number.NEGATIVE_INFINITY;
  #framesSaidS = Number.NEGATIVE_INFINITY;
  #framesBefore = 0;
  #noted: { readonly because: LateCause; readonly atS: number } | undefined;

  /** An engine that has just started counts from 0. */
  begin(nowS: number): void {
    this.#before = undefined;
    this.note('engine-started', nowS);
  }

  /** It makes light late, and says nothing of the machine. */
  note(because: LateCause, nowS: number): void {
    this.#noted = { because, atS: nowS };
  }

  #because(nowS: number): { readonly because?: LateCause } {
    const { because, atS } = this.#noted ?? { atS: Number.NEGATIVE_INFINITY };
    return because === undefined || nowS - atS > NOTED_FOR_S ? {} : { because };
  }

  /**
   * @param counters of the engine, as they come
   * @param lateFrames sections that have come too late since the supervisor started
   */
  take(counters: Counted, lateFrames: number, nowS: number): LatenessEvent[] {
    const { lateTicks, framesSkipped, messagesDropped } = counters;
    // The ticks of its first second are late by nature: nothing of it has been compiled yet.
    const before = this.#before ?? { lateTicks, framesSkipped: 0, messagesDropped: 0 };
    this.#before = counters;
    this.#lateFrames = lateFrames;
    this.#ticks += lateTicks - before.lateTicks;
    this.#skipped += framesSkipped - before.framesSkipped;
    this.#messages += messagesDropped - before.messagesDropped;
    return [...this.#sayTicks(nowS), ...this.#sayFrames(nowS)];
  }

  #sayTicks(nowS: number): LatenessEvent[] {
    const sinceS = nowS - this.#ticksSaidS;
    if (sinceS < REPORTED_EVERY_S) return [];
    const late = this.#ticks;
    this.#ticks = 0;
    if (late < MANY_LATE) return [];
    this.#ticksSaidS = nowS;
    return [{ kind: 'ticks-late', late, inS: inWords(sinceS), ...this.#because(nowS) }];
  }

  #sayFrames(nowS: number): LatenessEvent[] {
    const sinceS = nowS - this.#framesSaidS;
    if (sinceS < REPORTED_EVERY_S) return [];
    const event: LatenessEvent = {
      kind: 'frames-lost',
      late: this.#lateFrames - this.#framesBefore,
      skipped: this.#skipped,
      messages: this.#messages,
      inS: inWords(sinceS),
      ...this.#because(nowS),
    };
    if (event.late + event.skipped + event.messages === 0) return [];
    this.#framesSaidS = nowS;
    this.#framesBefore = this.#lateFrames;
    this.#skipped = 0;
    this.#messages = 0;
    return [event];
  }
}

/** Whole seconds; what was before the last ten was quiet. */
function inWords(sinceS: number): number {
  return Math.round(Math.min(sinceS, REPORTED_EVERY_S));
}
