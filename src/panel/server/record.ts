import { keepEvent } from '../../live/events.js';
import type { HistoryLine } from '../../live/history.js';
import { KEPT_S, keepMoment, type Moment } from '../../live/moments.js';
import type { LiveEvent, LiveLine, LiveSnapshot } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';

const EVENTS_MOST = 500;
/** So many of the newest are told apart by when they came: those of some seconds. */
const KNOWN_MOST = 64;
/** A new engine begins as the one before it was. */
const RESTORED = /, as before\b/;

/** The newest of everything, and the last ten minutes of what is drawn as strips. */
export class Record {
  stage: LiveStage | undefined;
  snapshot: LiveSnapshot | undefined;
  /** When the snapshot came, monotonic seconds. */
  cameS = Number.NEGATIVE_INFINITY;
  universes: LiveSnapshot['universes'];
  events: LiveEvent[] = [];
  readonly moments: Moment[] = [];
  readonly #came = new Map<number, number>();
  /** Why nothing comes; undefined: it does. */
  fault: string | undefined = 'the daemon has not answered yet';

  /** Of the moments. */
  #show: string | undefined;

  /** @param kept is told what there is to keep over a restart */
  constructor(
    readonly nowS: () => number,
    private readonly kept: (line: HistoryLine) => void = () => undefined,
  ) {}

  /** What was kept before a restart, as far as it is of the last ten minutes. @param unixS now */
  restore(lines: readonly HistoryLine[], unixS: number): void {
    const counts = ({ atS }: { readonly atS: number }) => atS > unixS - KEPT_S && atS <= unixS;
    for (const line of lines) {
      if ('show' in line) this.#turnTo(line.show);
      else if ('event' in line) {
        if (counts(line.event) && !this.#isKnown(line.event)) keepEvent(this.events, line.event);
      } else if (counts(line.moment)) this.moments.push(line.moment);
    }
  }

  /** All that there is to keep. */
  history(): HistoryLine[] {
    return [
      ...(this.#show === undefined ? [] : [{ show: this.#show }]),
      ...this.moments.map(moment => ({ moment })),
      ...this.events.map(event => ({ event })),
    ];
  }

  #turnTo(show: string): void {
    if (this.#show !== show) this.moments.length = 0;
    this.#show = show;
  }

  /** @returns whether it is new: a connection that begins anew tells again what happened */
  take(line: LiveLine): boolean {
    if (line.kind === 'stage') {
      if (this.#show !== line.show) this.kept({ show: line.show });
      this.#turnTo(line.show);
      this.stage = line;
      this.universes = undefined;
    } else if (line.kind === 'event') {
      if (this.#isKnown(line)) return false;
      keepEvent(this.events, line);
      this.kept({ event: line });
      const sinceS = line.atS - KEPT_S;
      while (this.events.length > EVENTS_MOST || (this.events[0]?.atS ?? line.atS) < sinceS) {
        this.events.shift();
      }
    } else {
      this.snapshot = line;
      this.cameS = this.nowS();
      this.#came.delete(line.sequence);
      this.#came.set(line.sequence, this.cameS);
      if (this.#came.size > KNOWN_MOST) this.#came.delete(this.#came.keys().next().value ?? 0);
      this.fault = undefined;
      if (line.universes !== undefined) this.universes = line.universes;
      const before = this.moments.at(-1);
      keepMoment(this.moments, line);
      const moment = this.moments.at(-1);
      if (moment !== undefined && moment !== before) this.kept({ moment });
    }
    return true;
  }

  #isKnown({ atS, text, what }: LiveEvent): boolean {
    return this.events.some(one => one.atS === atS && one.text === text && one.what === what);
  }

  /** Whether somebody was resumed after that, Unix seconds, as far as the events of the last ten minutes tell. */
  wasResumedAfter(unixS: number): boolean {
    return this.events.some(
      ({ what, atS, text }) => what === 'resumed' && atS > unixS && !RESTORED.test(text),
    );
  }

  /** How long ago this snapshot came here, seconds; of one that is not known any more, or yet: endless. */
  ageOf(sequence: number): number {
    return this.nowS() - (this.#came.get(sequence) ?? Number.NEGATIVE_INFINITY);
  }

  get ageS(): number {
    return this.nowS() - this.cameS;
  }
}
