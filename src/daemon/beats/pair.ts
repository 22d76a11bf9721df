import { unreachable } from '../../stage/unreachable.js';

/**
 * Two machines run one show; which of them receivers take is left to E1.31's own arbitration: the
 * highest priority wins (6.2.3), and a source silent for 2.5 s is gone (6.7.1). So the standby needs
 * to do nothing to take over. This file decides how the main machine comes back: below the standby until its light is
 * the same, so that nobody sees the change. Art-Net has no priorities: there the machine that does not lead sends
 * nothing.
 */
export type PairPhase =
  /** The main machine at its start, or after nothing could be sent: has a standby taken over? */
  | 'listening'
  /** It has: the main machine sends below it until its own light is the same. */
  | 'joining'
  /** Receivers take the main machine. */
  | 'leading'
  /** The standby, while the main one is heard. */
  | 'standing-by'
  /** The standby, while the main machine is silent: receivers take it. */
  | 'standing-in';

export interface PairInputs {
  readonly nowS: number;
  /** The other machine has been heard within 2.5 s. */
  readonly partnerHeard: boolean;
  /** The engine is well, and its light is what is sent. */
  readonly live: boolean;
  /** As far as is known, the other machine's light is the same as ours. */
  readonly alike: boolean;
  /** The system refuses all of our Art-Net, although the cable is in. */
  readonly artnetRefused?: boolean;
  /** The other machine sends Art-Net: heard within 2.5 s. */
  readonly artnetHeard?: boolean;
}

export interface PairOptions {
  readonly standby: boolean;
  /** There are outputs on which another machine could be heard; may change, as addresses do. */
  readonly canHear: boolean;
  /** The other machine is heard only on other networks: an outage there says nothing about this one. */
  readonly isDeaf?: boolean;
  /** There is only Art-Net, and the other machine sends none because it hears this one lead on another network. */
  readonly isCovered?: boolean;
  /** Time between two packets that are due, seconds. */
  readonly beatS?: number;
  readonly startS: number;
  /**
   * This machine was killed so recently that no standby has taken its place on Art-Net: it goes on sending there,
   * because nobody else would.
   */
  readonly resumes: boolean;
  /** It led or stood in before: another show has other interfaces. */
  readonly leads?: boolean;
}

/** Below the show's priorities: the standby by one, a main one that comes back by two. */
const SHIFTS = {
  listening: -2,
  joining: -2,
  leading: 0,
  'standing-by': -1,
  'standing-in': -1,
} as const satisfies Record<PairPhase, number>;

/** An unchanged universe is sent every 0.8 to 1 s (E1.31 6.6.2): who is there has been heard by then. */
const LISTEN_S = 1.2;
/** Equal for this long is no accident. */
const ALIKE_S = 0.5;
/** A main machine that has been live this long takes over although the two differ; by a crossfade. */
const JOIN_WITHIN_S = 10;
/** A standby that has not heard the main machine this long after its start sends Art-Net in its place. */
const PATIENCE_S = 10;

/**
 * A main machine that comes back starts Art-Net if nobody has sent any for this long: both machines have just been
 * started. A standby that takes its place sends 2.5 s after its last packet, and no restart takes less than 0.5 s.
 */
const ARTNET_MISSING_S = 2;

/**
 * How long nothing may be sent: receivers drop a source after 2.5 s (E1.31 6.7.1), the last packet may be 0.9 s old
 * (6.6.2) when the cable goes, and its loss is seen within 0.2 s.
 */
export const OUT_AFTER_S = 1.25;
/** And how long a standby that was out itself must not blame silence on the main machine. */
const SILENT_AFTER_S = 2.5;

/**
 * @param look what a dead main machine has left, and when it last noted it, monotonic seconds
 * @returns whether that was so recent that no standby has taken its place on Art-Net; see `PairOptions.resumes`
 */
export function resumesArtnet(
  look: { readonly writtenS: number } | undefined,
  nowS: number,
): boolean {
  return look !== undefined && nowS - look.writtenS < OUT_AFTER_S;
}

/** The role of one of the two machines. */
export class Pair {
  #phase: PairPhase;
  #listensFromS: number;
  #resumes: boolean;
  /** Nothing of it leaves. */
  #out = false;
  /** And yet nobody is heard who would send Art-Net in its place. */
  #isAlone = false;
  #outS = Number.NEGATIVE_INFINITY;
  /** It comes back, and is the only one that sends Art-Net. */
  #fillsArtnet = false;
  #artnetMissingFromS: number;
  #alikeSinceS: number | undefined;
  #liveSinceS: number | undefined;
  #everHeard = false;
  #hasStoodIn = false;
  /** Of a standby: since when it sends, and has not heard the other one with the light. */
  #aloneFromS: number | undefined;
  readonly #startS: number;
  /** The last step took over from a standby whose light was another: fade from its levels. */
  crossfades = false;

  constructor(private options: PairOptions) {
    this.#startS = options.startS;
    this.#listensFromS = options.startS;
    this.#aloneFromS = options.startS;
    this.#artnetMissingFromS = options.startS;
    this.#resumes = options.resumes;
    if (options.standby) this.#phase = options.leads === true ? 'standing-in' : 'standing-by';
    else this.#phase = options.canHear && options.leads !== true ? 'listening' : 'leading';
  }

  get phase(): PairPhase {
    return this.#phase;
  }

  /** To add to the priorities of the show. */
  get priorityShift(): number {
    return SHIFTS[this.#phase];
  }

  /** Whether Art-Net is to be held back. */
  get holdsArtnet(): boolean {
    if (this.#phase === 'leading' || this.#phase === 'standing-in' || this.#isAlone) return false;
    if (this.#fillsArtnet) return false;
    return this.options.standby || !this.#resumes;
  }

  /**
   * The standby stood in before an outage, and nobody has been heard since: receivers have what it last sent.
   */
  get hasStoodIn(): boolean {
    return this.#hasStoodIn && this.#phase === 'standing-by';
  }

  /** It comes back below a standby that waits, and sends Art-Net because nobody else does. */
  get fillsArtnet(): boolean {
    return this.#fillsArtnet;
  }

  /** Since when a main machine that does not lead is there again, monotonic seconds. */
  get listensFromS(): number {
    return this.#listensFromS;
  }

  /**
   * Since when a standby has sent, and has not heard the main machine with the light: receivers of sACN take it. It
   * waits all the same, as that one may be heard any moment. undefined: it has been heard.
   */
  get aloneFromS(): number | undefined {
    return this.#aloneFromS;
  }

  /** The other machine has been heard with the light since the start. */
  get hasHeard(): boolean {
    return this.#everHeard;
  }

  /** The same network, as the sockets of another show see it. */
  moveTo(options: PairOptions): void {
    this.options = options;
  }

  /** @param forS for how long nothing was sent @returns whether receivers may have dropped this machine */
  isOut(forS: number): boolean {
    // A beat that is late comes after one and a half.
    const afterS = Math.max(OUT_AFTER_S, 1.75 * (this.options.beatS ?? 0));
    return forS >= afterS && this.options.canHear;
  }

  /**
   * Nothing of this machine was sent for some time, because its cable was out or it stood still: receivers may have
   * dropped it. A main machine is then as if just started; a standby has heard as little as was heard of it. If only
   * sending is refused, the other machine is still heard, or is not there.
   * @param forS until now
   * @param hears the cable is in, and the socket well
   * @returns whether what was heard of the other machine before is useless
   */
  wasOut(forS: number, nowS: number, hears: boolean): boolean {
    const before = this.#out;
    this.#out = this.isOut(forS);
    if (!this.#out || (before && hears)) return false;
    if (this.options.isCovered === true && this.#phase === 'leading') return false;
    this.#outS = nowS;
    this.#aloneFromS = nowS;
    this.#listensFromS = nowS;
    this.#isAlone = false;
    this.#fillsArtnet = false;
    this.#artnetMissingFromS = nowS;
    this.#resumes = false;
    this.#alikeSinceS = undefined;
    this.#liveSinceS = undefined;
    if (!this.options.standby) this.#phase = 'listening';
    else if (this.options.isDeaf !== true) {
      this.#hasStoodIn ||= this.#phase === 'standing-in';
      this.#phase = 'standing-by';
    }
    return true;
  }

  /** One beat. @returns the phase, if it has changed */
  step(inputs: PairInputs): PairPhase | undefined {
    this.crossfades = false;
    const before = this.#phase;
    this.#phase = this.#next(inputs);
    this.#fillsArtnet = this.#fills(inputs);
    return this.#phase === before ? undefined : this.#phase;
  }

  /** Once it has started it goes on: the standby stops with the first packet that it hears. */
  #fills({ nowS, artnetRefused = false, artnetHeard = false }: PairInputs): boolean {
    const isBelow = this.#phase === 'listening' || this.#phase === 'joining';
    if (!isBelow || artnetRefused || this.#out) {
      this.#artnetMissingFromS = nowS;
      return false;
    }
    if (this.#fillsArtnet) return true;
    if (artnetHeard) this.#artnetMissingFromS = nowS;
    return this.#phase === 'joining' && nowS - this.#artnetMissingFromS >= ARTNET_MISSING_S;
  }

  #next({ nowS, partnerHeard, live, alike, artnetRefused = false }: PairInputs): PairPhase {
    const isDeaf = this.options.isDeaf === true;
    switch (this.#phase) {
      case 'listening':
        this.#isAlone = !partnerHeard && nowS - this.#listensFromS >= LISTEN_S;
        if (partnerHeard) return 'joining';
        // Nobody knows when refused packets will pass again: sACN stays below a standby that may be there by then.
        return this.#isAlone && !this.#out ? 'leading' : 'listening';
      case 'joining': {
        const joins = live && !this.#out && !artnetRefused;
        this.#alikeSinceS = joins && alike ? (this.#alikeSinceS ?? nowS) : undefined;
        this.#liveSinceS = joins ? (this.#liveSinceS ?? nowS) : undefined;
        if (this.#alikeSinceS !== undefined && nowS - this.#alikeSinceS >= ALIKE_S) {
          return 'leading';
        }
        const late = this.#liveSinceS !== undefined && nowS - this.#liveSinceS >= JOIN_WITHIN_S;
        this.crossfades = late || !partnerHeard;
        if (!this.crossfades) return 'joining';
        return this.#out ? 'listening' : 'leading';
      }
      case 'leading':
        // The standby is below: once this one is below it, all light of this network is the standby's, Art-Net too.
        if (!artnetRefused || !partnerHeard || !live || !alike) return 'leading';
        this.#alikeSinceS = undefined;
        this.#liveSinceS = undefined;
        return 'joining';
      case 'standing-by':
      case 'standing-in':
        this.#everHeard ||= partnerHeard;
        if (partnerHeard) {
          this.#hasStoodIn = false;
          this.#aloneFromS = undefined;
        }
        if (!partnerHeard && this.#phase === 'standing-in' && isDeaf) return 'standing-in';
        if (partnerHeard || nowS - this.#outS < SILENT_AFTER_S) return 'standing-by';
        if (this.#everHeard || nowS - this.#startS >= PATIENCE_S) return 'standing-in';
        return this.#phase;
      default:
        return unreachable(this.#phase);
    }
  }
}
