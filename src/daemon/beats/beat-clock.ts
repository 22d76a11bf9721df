import type { CutOff } from '../../safety/output-limiter.js';
import { monotonicS } from '../machine/clock.js';

/** A beat that comes later than this moves a fade no further, seconds: it goes on from where it stood. */
const LONGEST_BEAT_S = 0.1;
/** Time to hear others again after a stall of this process, seconds. */
const HEARS_AGAIN_S = 0.5;

export interface Beat {
  readonly nowS: number;
  /** By how much fades go on. */
  readonly dtS: number;
  /** Since the last beat. */
  readonly sinceS: number;
  readonly stalled: boolean;
}

/** A beat whose first sections have been sent. */
export interface OpenBeat extends Beat {
  readonly cutOff: CutOff | undefined;
  /** The last one sent. */
  section: number;
}

/** When the last beat was, and whether this process stood still since. */
export class BeatClock {
  #lastS = 0;
  /** Until then nobody's silence counts, because this process did not listen. */
  #deafUntilS = Number.NEGATIVE_INFINITY;

  start(nowS: number): void {
    this.#lastS = nowS;
  }

  hears(nowS: number): boolean {
    return nowS >= this.#deafUntilS;
  }

  /**
   * This process stood still for so long that an engine would count as lost: the light does not catch up in one step,
   * but goes through the safe look.
   * @param silentAfterS how long an engine may be silent
   */
  hasStalled(nowS: number, periodS: number, silentAfterS: number): boolean {
    return nowS - this.#lastS > Math.max(silentAfterS, 4 * periodS);
  }

  /** The time up to which a loss counts: fades missed in a stall are not caught up. */
  countsUntilS(nowS: number, periodS: number, silentAfterS: number): number {
    return this.hasStalled(nowS, periodS, silentAfterS) ? this.#lastS : nowS;
  }

  next(periodS: number, silentAfterS: number): Beat {
    const nowS = monotonicS();
    const sinceS = nowS - this.#lastS;
    const dtS = Math.min(sinceS, Math.max(LONGEST_BEAT_S, 2 * periodS));
    const stalled = this.hasStalled(nowS, periodS, silentAfterS);
    if (stalled) this.#deafUntilS = nowS + HEARS_AGAIN_S;
    this.#lastS = nowS;
    return { nowS, dtS, sinceS, stalled };
  }
}
