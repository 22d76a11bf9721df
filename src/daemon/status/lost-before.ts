import { isKnown, type Phase } from '../../safety/watchdog.js';
import type { Condition } from '../../safety/watchdog-table.js';
import { stateOf } from './states.js';

export interface PerformerNote {
  phase: Phase;
  cause: Condition | undefined;
  sinceS: number;
}

interface Missed {
  readonly cause: Condition | undefined;
  readonly sinceS: number;
  isLost: boolean;
}

/**
 * Who was on stage when an engine ended and has not been followed since. The next engine knows nobody, and for it they
 * were never heard; but they are out there, maybe in the dark.
 */
export class LostBefore {
  readonly #missed = new Map<string, Missed>();

  engineEnds(performers: ReadonlyMap<string, PerformerNote>, nowS: number): void {
    for (const [name, { phase, cause, sinceS }] of performers) {
      const isOnStage = phase !== 'waiting' && phase !== 'off';
      if (!isOnStage || this.#missed.get(name)?.isLost === true) continue;
      // A stop and the desk hide whether the tracker is heard.
      const isLost =
        stateOf(phase) === 'lost' && cause !== 'operator-stop' && cause !== 'desk-lost';
      this.#missed.set(
        name,
        isLost ? { cause, sinceS, isLost } : { cause: undefined, sinceS: nowS, isLost },
      );
    }
  }

  /** The new engine has the light: whoever it does not follow by now is lost. */
  lightIsBack(): void {
    for (const one of this.#missed.values()) one.isLost = true;
  }

  hear(performer: string, phase: Phase): void {
    if (isKnown(phase)) this.#missed.delete(performer);
  }

  /** Why, as far as it is known, and since when; undefined: they are not known to be lost. */
  of(performer: string): Pick<PerformerNote, 'cause' | 'sinceS'> | undefined {
    const one = this.#missed.get(performer);
    return one?.isLost === true ? one : undefined;
  }
}
