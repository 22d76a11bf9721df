import type { EngineEvent } from '../../engine/events/events.js';

/** One tracker of a performer that told nothing, while they wore it. */
export interface TrackerSilence {
  readonly performer: string;
  readonly tracker: string;
  /** Not heard, or heard with the same position again and again. */
  readonly how: 'silent' | 'frozen';
  /** They wore no other one when it began: their loss tells of it. */
  readonly isOnly: boolean;
  readonly fromS: number;
  /** undefined: not within the recording. */
  untilS: number | undefined;
}

/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/** When one tracker of several that a performer wears was not heard, or repeated itself: one after the other, never both. */
export class TrackerSilences {
  readonly all: TrackerSilence[] = [];
  /** By tracker, what has not ended yet. */
  readonly #open = new Map<string, TrackerSilence>();
  /** The same of the engine before, until the new one knows better. */
  readonly #before = new Map<string, TrackerSilence>();
  /** Since when a tracker is worn by who wears it now; missing: from the start. */
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
      // It is told once it has been heard for a while.
      this.#end(tracker, nowS - (event.heardForS ?? 0));
      return;
    }
    const open = this.#open.get(tracker);
    if (open?.how === 'silent') return;
    const before = this.#before.get(tracker);
    this.#before.delete(tracker);
    // An engine that was started meanwhile has not heard it: it is the same silence.
    const goesOn = before?.how === 'silent' && before.performer === performer;
    if (silentForS === undefined && goesOn && before !== undefined) {
      before.untilS = undefined;
      this.#open.set(tracker, before);
      return;
    }
    // What a spare did on its table is nobody's silence.
    const wornS = this.#wornS.get(tracker) ?? beganS;
    const silentS = silentForS === undefined ? beganS : nowS - silentForS;
    // What was frozen has repeated itself until its last report.
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

  /** Whether an engine that was started meanwhile tells of a silence that has been told. */
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

  /** @returns since when it is silent, as was told; undefined: it is heard */
  beganOf(tracker: string): number | undefined {
    const open = this.#open.get(tracker);
    return open?.how === 'silent' ? open.fromS : undefined;
  }

  /** Those of a performer that repeat themselves now. */
  frozenOf(performer: string): string[] {
    return [...this.#open.values()]
      .filter(one => one.how === 'frozen' && one.performer === performer)
      .map(({ tracker }) => tracker);
  }

  /** A tracker is given to somebody, or taken off: that it was silent is over. */
  moved(tracker: string, nowS: number): void {
    this.#wornS.set(tracker, nowS);
    this.#end(tracker, nowS);
    this.#before.delete(tracker);
  }

  /** A new engine tells anew who is silent. */
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

/** How much of a time, from `fromS` to `untilS`, was none of these losses: then another tracker was followed. */
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
