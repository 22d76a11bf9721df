import type { EngineEvent } from '../../engine/events/events.js';

/** A time in which one tracker of a performer told nothing while they wore it. */
export interface TrackerSilence {
  readonly performer: string;
  readonly tracker: string;
  /** Not heard, or heard with the same position again and again. */
  readonly how: 'silent' | 'frozen';
  /** They wore no other tracker when it began: then it is in the list of losses. */
  readonly isOnly: boolean;
  readonly fromS: number;
  /** undefined: not within the recording. */
  untilS: number | undefined;
}

/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/** When one of several trackers of a performer was silent or frozen; never both at once. */
export class TrackerSilences {
  readonly all: TrackerSilence[] = [];
  /** Silences that have not ended yet, by tracker. */
  readonly #open = new Map<string, TrackerSilence>();
  /** The same from the engine before, until the new one knows better. */
  readonly #before = new Map<string, TrackerSilence>();
  /** Since when a tracker has been worn by its present wearer; missing: from the start. */
  readonly #wornS = new Map<string, number>();

  /** @param beganS when the engine began, for a tracker that it has never heard */
  contact(
    event: Extract<EngineEvent, { kind: 'tracker-contact' }>,
    isOnly: boolean,
    nowS: number,
    beganS: number,
  ): void {
    const { tracker, performer, heard, silentForS } = event;
    if (heard) {
      // The event comes only once it has been heard for a while.
      this.#end(tracker, nowS - (event.heardForS ?? 0));
      return;
    }
    const open = this.#open.get(tracker);
    if (open?.how === 'silent') return;
    const before = this.#before.get(tracker);
    this.#before.delete(tracker);
    // An engine that was started meanwhile has not heard it either: it is the same silence.
    const goesOn = before?.how === 'silent' && before.performer === performer;
    if (silentForS === undefined && goesOn && before !== undefined) {
      before.untilS = undefined;
      this.#open.set(tracker, before);
      return;
    }
    // A silence before somebody wore it doesn't count.
    const wornS = this.#wornS.get(tracker) ?? beganS;
    const silentS = silentForS === undefined ? beganS : nowS - silentForS;
    // A frozen tracker repeated itself until its last report.
    this.#end(tracker, silentS);
    const fromS = Math.max(wornS, silentS, open?.fromS ?? silentS);
    this.#begin({ performer, tracker, how: 'silent', isOnly, fromS, untilS: undefined });
  }

  frozen(
    { tracker, performer, frozen }: Extract<EngineEvent, { kind: 'tracker-frozen' }>,
    isOnly: boolean,
    nowS: number,
  ): void {
    if (this.#open.get(tracker)?.how === 'frozen' && frozen) return;
    this.#end(tracker, nowS);
    if (!frozen) return;
    this.#begin({ performer, tracker, how: 'frozen', isOnly, fromS: nowS, untilS: undefined });
  }

  /** Whether an engine that was started meanwhile repeats a silence that has been reported. */
  isTold({
    tracker,
    performer,
    heard,
    silentForS,
  }: Extract<EngineEvent, { kind: 'tracker-contact' }>): boolean {
    const before = this.#before.get(tracker);
    if (heard || silentForS !== undefined || before === undefined) return false;
    return before.how === 'silent' && before.performer === performer;
  }

  /** @returns since when it has been silent, as reported; undefined: it is heard */
  beganOf(tracker: string): number | undefined {
    const open = this.#open.get(tracker);
    return open?.how === 'silent' ? open.fromS : undefined;
  }

  /** Those of a performer's trackers that are frozen now. */
  frozenOf(performer: string): string[] {
    return [...this.#open.values()]
      .filter(one => one.how === 'frozen' && one.performer === performer)
      .map(({ tracker }) => tracker);
  }

  /** A tracker is given to somebody, or taken off: its silence ends. */
  moved(tracker: string, nowS: number): void {
    this.#wornS.set(tracker, nowS);
    this.#end(tracker, nowS);
    this.#before.delete(tracker);
  }

  /** A new engine will say again which trackers are silent. */
  restart(nowS: number): void {
    this.#before.clear();
    for (const [tracker, silence] of [...this.#open]) {
      this.#end(tracker, nowS);
      this.#before.set(tracker, silence);
    }
  }

  #begin(silence: TrackerSilence): void {
    if (this.all.length < MOST_KEPT) this.all.push(silence);
    this.#open.set(silence.tracker, silence);
  }

  #end(tracker: string, nowS: number): void {
    const silence = this.#open.get(tracker);
    if (silence !== undefined) silence.untilS = Math.max(silence.fromS, nowS);
    this.#open.delete(tracker);
  }
}

/** How many seconds from `fromS` to `untilS` lie outside these losses: another tracker was followed then. */
export function outsideOf(
  fromS: number,
  untilS: number,
  losses: readonly { readonly atS: number; readonly forS: number }[],
): number {
  const lostS = losses.reduce((sum, { atS, forS }) => {
    return sum + Math.max(0, Math.min(untilS, atS + forS) - Math.max(fromS, atS));
  }, 0);
  return untilS - fromS - lostS;
}
