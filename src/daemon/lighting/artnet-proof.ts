import { OneSocketsSender, type PacketOf } from './delivery.js';

/** As a cable that is out; see `Pair`. */
const REFUSED_AFTER_S = 1.25;
/** What another machine sends meanwhile is tried so soon, and later, seconds, where it was refused again. */
const FIRST_TRY_S = 2.5;
const LONGEST_TRY_S = 60;
/** A refusal after so long, seconds, has nothing to do with the one before. */
const WELL_FOR_S = 60;

/**
 * Whether the Art-Net of an interface passes: a firewall, or a route that is missing, refuses it though the cable is
 * in. While another machine of a pair sends in our place, a poll says so that goes where the levels would.
 */
export class ArtnetProof extends OneSocketsSender {
  readonly of: PacketOf = { errand: 'ArtPoll' };
  #isRefused = false;
  #passedS = Number.NEGATIVE_INFINITY;
  #refusedS = Number.NEGATIVE_INFINITY;
  #dueS = Number.POSITIVE_INFINITY;
  #waitS = FIRST_TRY_S;

  /** All of it is refused, or was when it was last tried. */
  get isRefused(): boolean {
    return this.#isRefused;
  }

  /** A beat of levels. @param taken whether the system takes some of them */
  sends(taken: boolean, nowS: number): void {
    if (taken) {
      this.#isRefused = false;
      this.#passedS = nowS;
      if (nowS - this.#refusedS >= WELL_FOR_S) this.#waitS = FIRST_TRY_S;
      return;
    }
    if (this.#isRefused || nowS - this.#passedS < REFUSED_AFTER_S) return;
    this.#isRefused = true;
    this.#refusedS = nowS;
    this.#dueS = nowS + this.#waitS;
  }

  /** A beat in which another machine sends. @returns whether to try it */
  holds(nowS: number): boolean {
    if (!this.#isRefused) {
      this.#passedS = nowS;
      return false;
    }
    if (nowS < this.#dueS) return false;
    // A poll may pass where levels don't: then the next try is later.
    this.#waitS = Math.min(LONGEST_TRY_S, 2 * this.#waitS);
    this.#dueS = nowS + this.#waitS;
    return true;
  }

  note(taken: boolean): void {
    if (taken) this.#isRefused = false;
  }
}
