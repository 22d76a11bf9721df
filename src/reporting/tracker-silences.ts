import type { EngineEvent } from '../engine/events.js';

/** One tracker of a performer who was followed by another one meanwhile. */
export interface TrackerSilence {
  readonly performer: string;
  readonly tracker: string;
  /** Not heard, or heard with the same position again and again. */
  readonly how: 'silent' | 'frozen';
  readonly fromS: number;
  /** undefined: not within the recording. */
  untilS: number | undefined;
}

/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/**
 * When one tracker of several that a performer wears was not heard. While the performer is lost it does not
 * count: then nothing was followed, and the loss is told instead.
 */
export class TrackerSilences {
  readonly all: TrackerSilence[] = [];
  /** Trackers that are silent, by identifier, with their stretch in hand; it has ended while the performer is lost. */
  readonly #silent = new Map<string, TrackerSilence>();
  readonly #lost = new Set<string>();
  readonly #returnedS = new Map<string, number>();
  /** When each was heard last, as was told. */
  readonly #sinceS = new Map<string, number>();
  /** Since when a tracker is worn by who wears it now; missing: from the start. */
  readonly #wornS = new Map<string, number>();

  constructor(private readonly how: TrackerSilence['how']) {}

  /** @param beganS when anything was first known, for a tracker that was never heard */
  contact(
    event: Extract<EngineEvent, { kind: 'tracker-contact' }>,
    nowS: number,
    beganS: number,
  ): void {
    const { tracker, performer, heard, silentForS } = event;
    if (heard) {
      // It is told once it has been heard for a while.
      this.#end(tracker, nowS - (event.heardForS ?? 0));
      return;
    }
    if (this.#silent.has(tracker)) return;
    // What a spare did on its table is nobody's silence.
    const wornS = this.#wornS.get(tracker) ?? beganS;
    const silentS = Math.max(wornS, silentForS === undefined ? beganS : nowS - silentForS);
    this.#sinceS.set(tracker, silentS);
    const fromS = Math.max(silentS, this.#returnedS.get(performer) ?? silentS);
    this.#begin(performer, tracker, this.#lost.has(performer) ? nowS : fromS);
    if (this.#lost.has(performer)) this.#pause(performer, nowS);
  }

  /** @returns when it was heard last, as was told; undefined: it is heard */
  beganOf(tracker: string): number | undefined {
    return this.#silent.has(tracker) ? this.#sinceS.get(tracker) : undefined;
  }

  /** A tracker is given to somebody, or taken off: that it was silent is over. */
  moved(tracker: string, nowS: number): void {
    this.#wornS.set(tracker, nowS);
    this.#end(tracker, nowS);
  }

  lost(performer: string, nowS: number): void {
    this.#lost.add(performer);
    this.#pause(performer, nowS);
  }

  returned(performer: string, nowS: number): void {
    this.#lost.delete(performer);
    this.#returnedS.set(performer, nowS);
    for (const [tracker, silence] of [...this.#silent]) {
      if (silence.performer === performer) this.#begin(performer, tracker, nowS);
    }
  }

  /** A new engine tells anew who is silent. */
  restart(nowS: number): void {
    for (const tracker of [...this.#silent.keys()]) this.#end(tracker, nowS);
  }

  #begin(performer: string, tracker: string, fromS: number): void {
    const silence = { performer, tracker, how: this.how, fromS, untilS: undefined };
    if (this.all.length < MOST_KEPT) this.all.push(silence);
    this.#silent.set(tracker, silence);
  }

  #pause(performer: string, nowS: number): void {
    for (const silence of this.#silent.values()) {
      if (silence.performer === performer) silence.untilS ??= nowS;
    }
  }

  #end(tracker: string, nowS: number): void {
    const silence = this.#silent.get(tracker);
    if (silence !== undefined) silence.untilS ??= Math.max(silence.fromS, nowS);
    this.#silent.delete(tracker);
  }
}
