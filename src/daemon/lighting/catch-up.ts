import type { FallbackFixture, FallbackPlan } from '../../safety/fallback.js';
import {
  type CutOff,
  createOutputLimiter,
  GOES_BACK,
  LEAVES,
  type LimitOptions,
  type OutputLimiter,
  stepOutputLimiter,
} from '../../safety/output-limiter.js';
import { SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { sameBytes } from '../../stage/same-bytes.js';
import { beginComeback, type Comeback, stepComeback } from '../levels/comeback.js';
import { LEAST_OUTAGE_S } from '../levels/outages.js';
import type { Delivery } from './delivery.js';

/** So long after it was cut off its limits stay: no more flashes in a second than they allow. */
const STAYS_S = 1;

/** The fixtures of the show and what limits their light, for outputs that have to come back by themselves. */
export interface LimitedLight {
  readonly plan: FallbackPlan;
  readonly limits: LimitOptions;
  /** See `stepFallback`; by the place of a fixture in the show. */
  falls(fixture: number): boolean;
}

/**
 * One of several outputs that send a universe. While it alone is cut off, the light of the show goes on without it.
 * It comes back from what it last sent, within the limits of the show; after an outage like a whole universe: what
 * has changed meanwhile fades out, moves in the dark, and comes up (see `beginComeback`). Nothing is computed while
 * it keeps up.
 */
export class CatchUp {
  #plan: FallbackPlan;
  /** Of each of its fixtures, its place in the show. */
  #places: readonly number[];
  #falls: LimitedLight['falls'];
  #limits: LimitOptions;
  #limiter: OutputLimiter | undefined;
  #comeback: Comeback | undefined;
  /** When it was last cut off, and since when it has been, monotonic seconds. */
  #cutOffS = Number.NEGATIVE_INFINITY;
  #outSinceS: number | undefined;
  #lastS = 0;
  #behind = false;
  /** What it sent last is known from before, though nothing has left since. */
  #resumed = false;
  /** What it sends, or has sent last. */
  readonly #levels = new Uint8Array(SLOTS_PER_UNIVERSE);
  readonly #sent: Uint8Array;
  readonly #cutOff: CutOff;

  /**
   * @param universe index of the universe in the show
   * @param delivery of this output
   * @param onReturn it is back after an outage, and what has changed goes by way of the safe look
   */
  constructor(
    private readonly universe: number,
    { plan, limits, falls }: LimitedLight,
    private readonly delivery: Delivery,
    private readonly onReturn: () => void,
  ) {
    [this.#plan, this.#places] = planOf(plan, universe);
    this.#falls = falls;
    this.#limits = limits;
    this.#sent = delivery.keepOwn();
    this.#cutOff = { universes: new Uint8Array(1), sent: this.#sent };
  }

  /** Levels of the universe that this output has really sent last; undefined: none. */
  get left(): Uint8Array | undefined {
    return this.delivery.known || this.#resumed ? this.#sent : undefined;
  }

  /** These may be others than the show has. */
  get isApart(): boolean {
    return this.#limiter !== undefined;
  }

  /** It is cut off, or on its way back. */
  get isOut(): boolean {
    return this.#outSinceS !== undefined || this.#comeback !== undefined;
  }

  /** What it sends is not yet what the show has. While it is cut off it doesn't count. */
  get isBehind(): boolean {
    return this.#behind;
  }

  /** It was out for so long, or is on its way back, that a successor has to bring its light back. */
  get hasToReturn(): boolean {
    if (this.#comeback !== undefined) return true;
    return this.#outSinceS !== undefined && this.#lastS - this.#outSinceS >= LEAST_OUTAGE_S;
  }

  /**
   * Goes on from what another output had sent on the same stream, of this process or of one that was killed.
   * @param returns its `hasToReturn`
   */
  resume(left: Uint8Array, returns: boolean, nowS: number): void {
    this.#sent.set(left);
    this.#resumed = true;
    this.#goOn(left, returns, nowS);
  }

  #goOn(levels: Uint8Array, returns: boolean, nowS: number): void {
    this.#begin(levels, nowS);
    this.#outSinceS = returns ? Number.NEGATIVE_INFINITY : undefined;
  }

  /** Other fixtures are on the same universe from now on. */
  take({ plan, limits, falls }: LimitedLight, nowS: number): void {
    const returns = this.hasToReturn;
    [this.#plan, this.#places] = planOf(plan, this.universe);
    this.#falls = falls;
    this.#limits = limits;
    if (this.#limiter !== undefined) this.#goOn(Uint8Array.from(this.#levels), returns, nowS);
  }

  /** Another machine has sent meanwhile: what receivers have is no longer what this output sent. */
  forget(): void {
    this.#resumed = false;
    this.#rest();
  }

  /** It keeps up. */
  #rest(): void {
    this.#limiter = undefined;
    this.#comeback = undefined;
    this.#outSinceS = undefined;
    this.#behind = false;
  }

  /**
   * One beat.
   * @param levels of the universe, as the show has them
   * @param way whether what is sent in this beat leaves; see `CutOff`
   * @returns what this output is to send
   */
  step(levels: Uint8Array, way: number, nowS: number): Uint8Array {
    const leaves = way === LEAVES;
    if (this.#limiter === undefined) {
      if (leaves) return levels;
      this.#begin(this.left ?? levels, nowS);
    }
    const limiter = this.#limiter as OutputLimiter | undefined;
    if (limiter === undefined) return levels;
    const dtS = Math.max(0, nowS - this.#lastS);
    this.#lastS = nowS;
    let now = way;
    if (leaves) {
      // What was under way has left meanwhile: the light begins there, whatever it was when the jam was seen.
      if (this.#comeBack(levels, nowS) && this.left !== undefined) now = GOES_BACK;
    } else {
      this.#cutOffS = nowS;
      this.#outSinceS ??= nowS;
    }
    this.#levels.set(levels);
    const comeback = this.#comeback;
    if (leaves && comeback !== undefined) {
      const falls = (fixture: number) => this.#falls(this.#places[fixture] as number);
      if (!stepComeback(comeback, this.#levels, dtS, falls)) this.#comeback = undefined;
    }
    this.#cutOff.universes[0] = now;
    stepOutputLimiter(limiter, this.#levels, dtS, nowS, this.#cutOff);
    const isThere = sameBytes(this.#levels, levels);
    this.#behind = leaves && !isThere;
    const isLate = nowS - this.#cutOffS >= STAYS_S;
    if (isLate && isThere && this.#comeback === undefined) this.#rest();
    return this.#levels;
  }

  /** It leaves: after an outage the light begins at what it last sent. @returns whether it has just come back */
  #comeBack(levels: Uint8Array, nowS: number): boolean {
    const sinceS = this.#outSinceS;
    this.#outSinceS = undefined;
    if (sinceS === undefined || nowS - sinceS < LEAST_OUTAGE_S) return false;
    const under = new Set(this.#comeback?.plan.fixtures);
    const sent = Uint8Array.from(this.left ?? this.#levels);
    this.#comeback = beginComeback(this.#plan, () => true, sent, levels, under);
    if (this.#comeback !== undefined) this.onReturn();
    return true;
  }

  #begin(start: Uint8Array, nowS: number): void {
    const channels = this.#plan.fixtures.flatMap(fixture => fixture.channels);
    this.#limiter = createOutputLimiter(channels, start, this.#limits, this.#plan.fixtures);
    this.#comeback = undefined;
    this.#levels.set(start);
    this.#lastS = nowS;
    this.#cutOffS = nowS;
  }
}

/**
 * The part of a plan that lies in one universe, as if there were no other: a fixture lies in one. And the places that
 * its fixtures have in the whole.
 */
function planOf(
  plan: FallbackPlan,
  universe: number,
): [part: FallbackPlan, places: readonly number[]] {
  const first = universe * SLOTS_PER_UNIVERSE;
  const isHere = ({ channels: [channel] }: FallbackFixture) => {
    const slot = channel?.slots[0] ?? Number.NEGATIVE_INFINITY;
    return slot >= first && slot < first + SLOTS_PER_UNIVERSE;
  };
  const places = plan.fixtures.flatMap((fixture, i) => (isHere(fixture) ? [i] : []));
  const fixtures = plan.fixtures.filter(isHere).map((fixture): FallbackFixture => {
    const channels = fixture.channels.map(channel => ({
      ...channel,
      slots: channel.slots.map(slot => slot - first),
    }));
    return { ...fixture, channels };
  });
  const part = {
    ...plan,
    fixtures,
    levelCount: SLOTS_PER_UNIVERSE,
    safeLook: plan.safeLook.subarray(first, first + SLOTS_PER_UNIVERSE),
  };
  return [part, places];
}
