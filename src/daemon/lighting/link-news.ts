import type { LightingEvent, LinkEvent } from './events.js';

/** So many lines at once; a plug with a bad contact comes and goes several times a second. */
const AT_ONCE = 8;
/** And then one in so many seconds. */
const EVERY_S = 60;

interface Told {
  /** What is wrong now; undefined: nothing. */
  now: LinkEvent | undefined;
  /** Changes that were not told. */
  untold: number;
}

/**
 * Reports on one interface. Every change is reported, so that the status is right at once; but only a few go to the
 * log, then one a minute with the number of changes, and always the last state.
 */
export class LinkNews {
  readonly #carrier: Told = { now: undefined, untold: 0 };
  readonly #address: Told = { now: undefined, untold: 0 };
  #left = AT_ONCE;
  #filledS = Number.NEGATIVE_INFINITY;
  #back: LinkEvent | undefined;

  constructor(
    private readonly name: string,
    private readonly onEvent: (event: LightingEvent) => void,
  ) {}

  carrier(has: boolean, nowS: number): void {
    this.#carrier.now = has ? undefined : { kind: 'carrier-lost', interface: this.name };
    this.#change(this.#carrier, nowS);
  }

  lost(reason: string, nowS: number): void {
    this.#address.now = { kind: 'interface-lost', interface: this.name, reason };
    this.#change(this.#address, nowS);
  }

  back(address: string, nowS: number): void {
    this.#address.now = undefined;
    this.#back = { kind: 'interface-back', interface: this.name, address };
    this.#change(this.#address, nowS);
  }

  /** Several times a second. */
  look(nowS: number): void {
    for (const one of [this.#carrier, this.#address]) {
      if (one.untold > 0) this.#tell(one, nowS);
    }
  }

  #change(one: Told, nowS: number): void {
    one.untold += 1;
    if (this.#tell(one, nowS)) return;
    const event = this.#eventOf(one);
    if (event !== undefined) this.onEvent({ ...event, quiet: true });
  }

  /** @returns whether the log may have it now */
  #tell(one: Told, nowS: number): boolean {
    this.#fill(nowS);
    if (this.#left < 1) return false;
    this.#left -= 1;
    const { untold } = one;
    one.untold = 0;
    const changes = untold > 1 ? { changes: untold } : {};
    const event = this.#eventOf(one);
    if (event !== undefined) this.onEvent({ ...event, ...changes });
    return true;
  }

  #eventOf(one: Told): LinkEvent | undefined {
    if (one.now !== undefined) return one.now;
    if (one !== this.#carrier) return this.#back;
    return { kind: 'carrier-back', interface: this.name };
  }

  #fill(nowS: number): void {
    if (this.#filledS === Number.NEGATIVE_INFINITY) this.#filledS = nowS;
    const more = Math.floor((nowS - this.#filledS) / EVERY_S);
    if (more <= 0) return;
    this.#filledS += more * EVERY_S;
    this.#left = Math.min(AT_ONCE, this.#left + more);
  }
}
