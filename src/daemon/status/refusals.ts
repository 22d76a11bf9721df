import { dropsNamed } from '../../engine/events/drop-words.js';
import type { DropReason } from '../../engine/values/counters.js';
import type { EngineCounters } from '../engine/engine-link.js';

/** Why positions that do come are not taken; what else comes to the port is nobody's position. */
const OF_POSITIONS: readonly DropReason[] = [
  'sender-not-allowed',
  'not-finite',
  'quality-range',
  'position-range',
  'argument-count',
  'argument-type',
  'unknown-tracker',
  'time-tag-too-late',
  'too-many-held',
];

/** Fewer a second are a stray packet. */
const LEAST_A_SECOND = 2;

/** Positions that arrive but are refused, so that the tracker looks silent. */
export class Refusals {
  #all: { readonly reason: DropReason; readonly what: string; readonly sinceS: number }[] = [];

  count(now: EngineCounters, before: EngineCounters, passedS: number, nowS: number): void {
    this.#all = OF_POSITIONS.flatMap(reason => {
      const perS = Math.round((now.drops[reason] - before.drops[reason]) / Math.max(0.1, passedS));
      if (perS < LEAST_A_SECOND) return [];
      const from = now.latestFrom[reason];
      const why =
        reason === 'sender-not-allowed'
          ? `${from ?? 'the sender'} is not in allow`
          : `${dropsNamed(reason)}${from === undefined ? '' : ` (from ${from})`}`;
      const sinceS = this.#all.find(one => one.reason === reason)?.sinceS ?? nowS;
      return [{ reason, what: `${perS} a second refused: ${why}`, sinceS }];
    });
  }

  forget(): void {
    this.#all = [];
  }

  /** Without those of trackers that nobody in the show wears: a house may have more of them. */
  get ofStrangers(): readonly { readonly what: string; readonly sinceS: number }[] {
    return this.#all.filter(({ reason }) => reason !== 'unknown-tracker');
  }

  get all(): readonly { readonly what: string; readonly sinceS: number }[] {
    return this.#all;
  }
}
