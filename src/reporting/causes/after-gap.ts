import type { EngineEvent } from '../../engine/events/events.js';
import { type Phase, wantsLive } from '../../safety/watchdog.js';

/** A time of which the recording has nothing, monotonic seconds. */
export interface RecordingGap {
  readonly fromS: number;
  readonly toS: number;
}

/**
 * So long after a gap it is not known whether somebody is lost, seconds: the engine that goes again has heard nobody
 * for the length of the gap, and follows them again once they were well for `rearm` and their heads have moved.
 */
const UNKNOWN_FOR_S = 10;

/** Of whom nothing is known after a gap in the recording, until they are seen to be followed, off stage, or lost for good. */
export class AfterGap {
  readonly gaps: RecordingGap[] = [];
  readonly #unknown = new Set<string>();
  #resumedS = Number.NaN;
  /** Whose next event ends what the jump has brought about. */
  readonly #ofTheJump = new Set<string>();

  begin(gap: RecordingGap, names: readonly string[]): void {
    this.gaps.push(gap);
    this.#resumedS = gap.toS;
    for (const name of names) this.#unknown.add(name);
  }

  /** A new engine begins: what comes of it is told by itself. */
  engineBegins(): void {
    this.#unknown.clear();
    this.#ofTheJump.clear();
  }

  has(name: string): boolean {
    return this.#unknown.has(name);
  }

  /** @returns 'lost': for the first time since the gap it is sure that they are not followed */
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

  /** Without what the jump in time alone has brought about, and what ends that. */
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

/** Of what the engine that goes again says that it is silent, as it has heard nothing for the length of the gap. */
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
