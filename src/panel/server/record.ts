import { confidenceOf } from '../../live/reading.js';
import type { LiveEvent, LiveLine, LiveSnapshot } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';

const KEPT_S = 600;
const EVENTS_MOST = 500;

/** One second of the evening. */
export interface Moment {
  readonly atS: number;
  readonly positionsPerS: number;
  readonly droppedPerS: number;
  /** Of each performer, by name; null: no engine. A reload may bring others, in another order. */
  readonly confidence: Readonly<{ [performer: string]: number | null }>;
  /** How far the light is predicted ahead, the longest of all who are followed, seconds. */
  readonly delayS: number | null;
}

/** The newest of everything, and the last ten minutes of what is drawn as strips. */
export class Record {
  stage: LiveStage | undefined;
  snapshot: LiveSnapshot | undefined;
  /** When the snapshot came, monotonic seconds. */
  cameS = Number.NEGATIVE_INFINITY;
  universes: LiveSnapshot['universes'];
  events: LiveEvent[] = [];
  readonly moments: Moment[] = [];
  /** Why nothing comes; undefined: it does. */
  fault: string | undefined = 'the daemon has not answered yet';

  constructor(private readonly nowS: () => number) {}

  /** @returns whether it is new: a connection that begins anew tells again what happened */
  take(line: LiveLine): boolean {
    if (line.kind === 'stage') {
      if (this.stage?.show !== line.show) this.moments.length = 0;
      this.stage = line;
      this.universes = undefined;
    } else if (line.kind === 'event') {
      if (this.#isKnown(line)) return false;
      this.events.push(line);
      const sinceS = line.atS - KEPT_S;
      while (this.events.length > EVENTS_MOST || (this.events[0]?.atS ?? line.atS) < sinceS) {
        this.events.shift();
      }
    } else {
      this.snapshot = line;
      this.cameS = this.nowS();
      this.fault = undefined;
      if (line.universes !== undefined) this.universes = line.universes;
      this.#note(line);
    }
    return true;
  }

  #isKnown({ atS, text, what }: LiveEvent): boolean {
    return this.events.some(one => one.atS === atS && one.text === text && one.what === what);
  }

  get ageS(): number {
    return this.nowS() - this.cameS;
  }

  #note({ atS, status, engine }: LiveSnapshot): void {
    const last = this.moments.at(-1);
    // A clock that is set back begins anew.
    if (last !== undefined && atS < last.atS - 5) this.moments.length = 0;
    else if (last !== undefined && atS - last.atS < 0.95) return;
    const ahead = (engine?.performers ?? []).flatMap(one =>
      one.aheadS !== undefined && (one.phase === 'live' || one.phase === 'returning')
        ? [one.aheadS]
        : [],
    );
    this.moments.push({
      atS,
      positionsPerS: status.feed.positionsPerS,
      droppedPerS: status.feed.droppedPerS,
      confidence: confidenceOf(status, engine),
      delayS: ahead.length === 0 ? null : Math.max(...ahead),
    });
    while ((this.moments[0]?.atS ?? atS) < atS - KEPT_S) this.moments.shift();
  }
}
