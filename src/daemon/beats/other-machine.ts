import type { OtherShows } from '../../live/pair-words.js';
import { decodeDatagram, MAX_BUNDLE_DEPTH } from '../../protocols/osc/decode.js';
import { ORDER_ADDRESSES, readOrder, type Teller } from '../../protocols/osc/orders.js';
import type { HeardOrders } from '../memory/kept-stops.js';

/** The other machine speaks once a second; this long after the last time it is unknown, seconds. */
const SAID_WITHIN_S = 5;
/** Two machines that reload one after the other differ for a moment: only a longer difference is reported, seconds. */
const TOLD_AFTER_S = 3;
/** A standby of several pairs hears several main machines; of more, some are forged. */
const MOST = 16;
/** Two machines that have just been started need not be ready together, seconds. */
const NEVER_SAID_AFTER_S = 12;

export interface OtherShowEvent {
  readonly kind: 'other-show';
  /** The other one. */
  readonly machine: Teller;
  readonly shows: OtherShows;
  /** Of the other machine; undefined: not known. */
  readonly address: string | undefined;
  /** Of one that says nothing: it has said that it ends. */
  readonly ended?: true;
  /** Of one that says nothing: it never has. */
  readonly never?: true;
}

/** One of the two machines hears no tracking, while the other one does. */
export interface OtherTrackingEvent {
  readonly kind: 'other-tracking';
  /** The other one. */
  readonly machine: Teller;
  /** It hears none; false: it does again, or this machine hears none either. */
  readonly silent: boolean;
  readonly address: string | undefined;
}

/** Of this machine. */
export interface OurMachine {
  /** Of the show that runs here. */
  digest(): string;
  hearsTracking(): boolean;
  /** The show has a standby that is to say that it is there. */
  hasStandby(): boolean;
}

interface Said {
  readonly digest: string;
  readonly atS: number;
  /** Since when it differs from ours, monotonic seconds; undefined: it is the same. */
  readonly apartS: number | undefined;
  /** Since when it hears no tracking, monotonic seconds. */
  readonly silentS: number | undefined;
}

/**
 * Whether the other machine of a pair is there, runs the same show, and hears tracking: each tells the other once a
 * second. Where a standby sends only Art-Net, which it holds back while it waits, this is the only sign of it.
 */
export class OtherMachine {
  readonly #machine: Teller;
  /** What each machine said last, by its address. */
  readonly #said = new Map<string, Said>();
  #told: OtherShows = 'unknown';
  /** Of the one that was told of. */
  #address: string | undefined;
  #hasEnded = false;
  #isSilent = false;
  #startS: number | undefined;
  #neverTold = false;

  constructor(
    standby: boolean,
    private readonly ours: OurMachine,
    private readonly onEvent: (event: OtherShowEvent | OtherTrackingEvent) => void,
  ) {
    this.#machine = standby ? 'main' : 'standby';
  }

  hear({ bytes, plan, from = '' }: HeardOrders, nowS: number): void {
    if (!bytes.includes(ORDER_ADDRESSES.show)) return;
    const limits = { maxDatagramBytes: plan.maxDatagramBytes, maxBundleDepth: MAX_BUNDLE_DEPTH };
    decodeDatagram(bytes, limits, {
      message: (address, args) => {
        const order = readOrder(address, args);
        if (typeof order === 'string' || order.kind !== 'show') return;
        if (order.teller !== this.#machine) return;
        const before = this.#said.get(from);
        if (before === undefined && this.#said.size >= MOST) return;
        const { digest, state } = order;
        this.#hasEnded = state === 'ends';
        if (this.#hasEnded) {
          this.#said.delete(from);
          return;
        }
        const apartS = digest === this.ours.digest() ? undefined : (before?.apartS ?? nowS);
        const silentS = state === 'no-tracking' ? (before?.silentS ?? nowS) : undefined;
        this.#said.set(from, { digest, atS: nowS, apartS, silentS });
      },
      // The engine counts it.
      rejected: () => undefined,
    });
  }

  /** Once a beat. */
  look(nowS: number): void {
    this.#lookAtShows(nowS);
    this.#lookAtTracking(nowS);
    this.#lookForStandby(nowS);
  }

  #lookForStandby(nowS: number): void {
    this.#startS ??= nowS;
    const isMissed =
      this.#machine === 'standby' &&
      this.#address === undefined &&
      nowS - this.#startS >= NEVER_SAID_AFTER_S &&
      this.ours.hasStandby();
    if (isMissed === this.#neverTold) return;
    this.#neverTold = isMissed;
    if (!isMissed) return;
    const event = { machine: this.#machine, shows: 'unknown', address: undefined } as const;
    this.onEvent({ kind: 'other-show', ...event, never: true });
  }

  #lookAtTracking(nowS: number): void {
    const [address] =
      [...this.#said].find(
        ([, { silentS }]) => silentS !== undefined && nowS - silentS >= TOLD_AFTER_S,
      ) ?? [];
    const silent = address !== undefined && this.ours.hearsTracking();
    if (silent === this.#isSilent) return;
    this.#isSilent = silent;
    this.onEvent({ kind: 'other-tracking', machine: this.#machine, silent, address });
  }

  #lookAtShows(nowS: number): void {
    let [same, apart]: (string | undefined)[] = [];
    let isOpen = false;
    for (const [address, { digest, atS, apartS }] of this.#said) {
      if (nowS - atS > SAID_WITHIN_S) this.#said.delete(address);
      else if (digest === this.ours.digest()) same ??= address;
      else if (apartS !== undefined && nowS - apartS >= TOLD_AFTER_S) apart ??= address;
      else isOpen = true;
    }
    if (apart === undefined && isOpen) return;
    const shows = apart !== undefined ? 'differ' : same !== undefined ? 'same' : 'unknown';
    if (shows === this.#told) return;
    this.#told = shows;
    this.#address = apart ?? same ?? this.#address;
    const ended = shows === 'unknown' && this.#hasEnded ? { ended: true as const } : {};
    const { machine, address } = { machine: this.#machine, address: this.#address };
    this.onEvent({ kind: 'other-show', machine, shows, address, ...ended });
  }
}
