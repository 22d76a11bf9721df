import type { EngineEvent } from '../../engine/events/events.js';
import { type Phase, wantsLive } from '../../safety/watchdog.js';

/** A time that the recording lacks, monotonic seconds. */
export interface RecordingGap {
  readonly fromS: number;
  readonly toS: number;
}

/**
 * For this long after a gap nobody knows whether somebody is lost, seconds: the replayed engine has heard nobody during
 * the gap, and follows them again only after `rearm` and the moves of their heads.
 */
const UNKNOWN_FOR_S = 10;

/** Performers about whom nothing is known after a gap in the recording, until they are followed, off stage, or certainly lost. */
export class AfterGap {
  readonly gaps: RecordingGap[] = [];
  readonly #unknown = new Set<string>();
  #resumedS = Number.NaN;
  /** Subjects whose next event only ends what the jump in time caused. */
  readonly #ofTheJump = new Set<string>();

  begin(gap: RecordingGap, names: readonly string[]): void {
    this.gaps.push(gap);
    this.#resumedS = gap.toS;
    for (const name of names) this.#unknown.add(name);
  }

  /** A new engine begins: the rest is known from it. */
  engineBegins(): void {
    this.#unknown.clear();
    this.#ofTheJump.clear();
  }

  has(name: string): boolean {
    return this.#unknown.has(name);
  }

  /** @returns 'lost' when it is certain, for the first time since the gap, that they are not followed */
  look(
    { name, phase }: { readonly name: string; readonly phase: Phase },
    nowS: number,
  ): 'known' | 'unknown' | 'lost' {
    if (!this.#unknown.has(name)) return 'known';
    const isThere = wantsLive(phase) || phase === 'off';
    if (!isThere && nowS - this.#resumedS < UNKNOWN_FOR_S) return 'unknown';
    this.#unknown.delete(name);
    return isThere ? 'known' : 'lost';
  }

  /** The events without those that only the jump in time caused, and without those that end them. */
  happened(events: readonly EngineEvent[], nowS: number): readonly EngineEvent[] {
    if (nowS === this.#resumedS) {
      for (const event of events) {
        const subject = subjectOf(event);
        if (subject !== undefined) this.#ofTheJump.add(subject);
      }
      return events.filter(event => subjectOf(event) === undefined);
    }
    if (this.#ofTheJump.size === 0 || events.length === 0) return events;
    return events.filter(event => !this.#ofTheJump.delete(subjectOf(event) ?? 'nothing'));
  }
}

/** What an event calls silent; undefined for other events. The replayed engine heard nothing during the gap. */
function subjectOf(event: EngineEvent): string | undefined {
  switch (event.kind) {
    case 'stalled':
    case 'feed':
    case 'desk':
      return event.kind;
    case 'tracker-contact':
    case 'tracker-frozen':
      return `${event.kind} ${event.tracker}`;
    case 'signal':
      return `${event.kind} ${event.signal}`;
    default:
      return undefined;
  }
}
