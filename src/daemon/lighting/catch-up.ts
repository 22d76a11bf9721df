import type { FallbackChannel } from '../../safety/fallback.js';
import {
  type CutOff,
  createLeaving,
  LEAVES,
  type Leaving,
  type LimitOptions,
  stepLeaving,
} from '../../safety/leaving.js';
import { SLOTS_PER_UNIVERSE } from '../../show/model.js';
import type { Delivery } from './delivery.js';

/** So long after it was cut off its limits stay: no more flashes in a second than they allow. */
const STAYS_S = 1;

/** What limits the light of the show, for outputs that have to come back within the same limits. */
export interface LimitedChannels {
  readonly channels: readonly FallbackChannel[];
  readonly limits: LimitOptions;
}

/**
 * One output of a universe that other outputs send too. While it is cut off and they are not, the light of the show
 * goes on without it; it comes back from what it last sent, within the limits of the show, and not in one step.
 * Nothing is computed while it keeps up.
 */
export class CatchUp {
  readonly #channels: readonly FallbackChannel[];
  readonly #limits: LimitOptions;
  #leaving: Leaving | undefined;
  #cutOffS = Number.NEGATIVE_INFINITY;
  #lastS = 0;
  readonly #levels = new Uint8Array(SLOTS_PER_UNIVERSE);
  readonly #sent: Uint8Array;
  readonly #cutOff: CutOff;

  /**
   * @param universe index of the universe in the show
   * @param delivery of this output
   */
  constructor(
    universe: number,
    { channels, limits }: LimitedChannels,
    private readonly delivery: Delivery,
  ) {
    const first = universe * SLOTS_PER_UNIVERSE;
    this.#limits = limits;
    this.#channels = channels
      .filter(({ slots }) => Math.floor((slots[0] ?? -1) / SLOTS_PER_UNIVERSE) === universe)
      .map(channel => ({ ...channel, slots: channel.slots.map(slot => slot - first) }));
    this.#sent = delivery.keepOwn();
    this.#cutOff = { universes: new Uint8Array(1), sent: this.#sent };
  }

  /** Levels of the universe that this output has really sent last; undefined: none. */
  get left(): Uint8Array | undefined {
    return this.delivery.known ? this.#sent : undefined;
  }

  /** Goes on from what another output of this process had sent on the same stream. */
  resume(left: Uint8Array, nowS: number): void {
    this.#begin(left, nowS);
  }

  /**
   * One beat.
   * @param levels of the universe, as the show has them
   * @param way whether what is sent in this beat leaves; see `CutOff`
   * @returns what this output is to send
   */
  step(levels: Uint8Array, way: number, nowS: number): Uint8Array {
    if (way !== LEAVES) this.#cutOffS = nowS;
    if (this.#leaving === undefined) {
      if (way === LEAVES) return levels;
      this.#begin(this.left ?? levels, nowS);
    }
    const leaving = this.#leaving as Leaving | undefined;
    if (leaving === undefined) return levels;
    this.#levels.set(levels);
    this.#cutOff.universes[0] = way;
    stepLeaving(leaving, this.#levels, Math.max(0, nowS - this.#lastS), nowS, this.#cutOff);
    this.#lastS = nowS;
    const isLate = nowS - this.#cutOffS >= STAYS_S;
    if (isLate && isEqual(this.#levels, levels)) this.#leaving = undefined;
    return this.#levels;
  }

  #begin(start: Uint8Array, nowS: number): void {
    this.#leaving = createLeaving(this.#channels, start, this.#limits);
    this.#lastS = nowS;
    this.#cutOffS = nowS;
  }
}

function isEqual(a: Uint8Array, b: Uint8Array): boolean {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return true;
}
