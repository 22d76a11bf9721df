import type { OtherShows } from '../../live/pair-words.js';
import { decodeDatagram, MAX_BUNDLE_DEPTH } from '../../protocols/osc/decode.js';
import { ORDER_ADDRESSES, readOrder, type Teller } from '../../protocols/osc/orders.js';
import type { HeardOrders } from '../memory/kept-stops.js';

/** The other machine names its show once a second; this long after the last time it is unknown, seconds. */
const SAID_WITHIN_S = 5;
/** Two machines that reload one after the other differ for a moment: only a longer difference is reported, seconds. */
const TOLD_AFTER_S = 3;
/** A standby of several pairs hears several main machines; of more, some are forged. */
const MOST = 16;

export interface OtherShowEvent {
  readonly kind: 'other-show';
  /** The other one. */
  readonly machine: Teller;
  readonly shows: OtherShows;
  /** Of the other machine; undefined: not known. */
  readonly address: string | undefined;
}

interface Said {
  readonly digest: string;
  readonly atS: number;
  /** Since when it differs from ours, monotonic seconds; undefined: it is the same. */
  readonly apartS: number | undefined;
}

/** Whether the other machine of a pair runs the same show: each tells the other the digest of its own, once a second. */
export class OtherShow {
  readonly #machine: Teller;
  /** What each machine said last, by its address. */
  readonly #said = new Map<string, Said>();
  #told: OtherShows = 'unknown';

  /** @param ours digest of the show that runs here */
  constructor(
    standby: boolean,
    private readonly ours: () => string,
    private readonly onEvent: (event: OtherShowEvent) => void,
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
        const { digest } = order;
        const apartS = digest === this.ours() ? undefined : (before?.apartS ?? nowS);
        this.#said.set(from, { digest, atS: nowS, apartS });
      },
      // The engine counts it.
      rejected: () => undefined,
    });
  }

  /** Once a beat. */
  look(nowS: number): void {
    let [same, apart]: (string | undefined)[] = [];
    let isOpen = false;
    for (const [address, { digest, atS, apartS }] of this.#said) {
      if (nowS - atS > SAID_WITHIN_S) this.#said.delete(address);
      else if (digest === this.ours()) same ??= address;
      else if (apartS !== undefined && nowS - apartS >= TOLD_AFTER_S) apart ??= address;
      else isOpen = true;
    }
    if (apart === undefined && isOpen) return;
    const shows = apart !== undefined ? 'differ' : same !== undefined ? 'same' : 'unknown';
    if (shows === this.#told) return;
    this.#told = shows;
    const address = apart ?? same;
    this.onEvent({ kind: 'other-show', machine: this.#machine, shows, address });
  }
}
