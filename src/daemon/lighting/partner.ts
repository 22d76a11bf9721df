import { SLOTS_PER_UNIVERSE } from '../../show/model/model.js';

/** E1.31 6.7.1, E131_NETWORK_DATA_LOSS_TIMEOUT: a source silent for so long is gone. */
export const SOURCE_GONE_AFTER_S = 2.5;
/** An unchanged universe is sent within a second (E1.31 6.6.2): a keep-alive has been missed. */
const MISSED_AFTER_S = 1.1;
/** Its last levels are what receivers have, for so long after they were heard. */
const REMEMBERED_S = 2 * SOURCE_GONE_AFTER_S;

/** How the other machine is, and where, as heard last. */
export type PartnerNews =
  | { readonly other: 'never heard' }
  | {
      /** `comes back`: a main machine that sends below the standby, until its light is the same. */
      readonly other: 'heard' | 'comes back' | 'ended' | 'silent';
      /** Monotonic seconds. */
      readonly lastHeardS: number;
      readonly address: string | undefined;
      /** If it comes back: since when. */
      readonly backS?: number;
    };

/** The other machine of a pair, as heard on the lighting network. */
export class Partner {
  /** All universes of the show, 512 each: what it sent last. */
  readonly levels: Uint8Array;
  readonly #heardS: Float64Array;
  /** When each universe was heard last, also if it has said since then that it ends. */
  readonly #rememberedS: Float64Array;
  /** When each was heard last by sACN, with whatever priority, and has not ended since. */
  readonly #sacnS: Float64Array;
  #lastS = Number.NEGATIVE_INFINITY;
  #artnetS = Number.NEGATIVE_INFINITY;
  /** The same, for people: also if it has ended, or is of no use any more. */
  #toldS: number | undefined;
  #address: string | undefined;
  #hasEnded = false;
  /** When its sACN was heard last with a priority below the standby's; it is not there yet. */
  #belowS = Number.NEGATIVE_INFINITY;
  /** Since when it is heard so. */
  #backS = Number.NEGATIVE_INFINITY;
  /** For people: nothing of it has been heard since it said that it ends. */
  #saidEnd = false;

  /** @param everywhere the same machine, as heard on any network */
  constructor(
    universeCount: number,
    private readonly everywhere?: Partner,
  ) {
    this.levels = new Uint8Array(universeCount * SLOTS_PER_UNIVERSE);
    this.#heardS = new Float64Array(universeCount).fill(Number.NEGATIVE_INFINITY);
    this.#rememberedS = this.#heardS.slice();
    this.#sacnS = this.#heardS.slice();
  }

  /** @param universe index into the show's */
  hear(universe: number, slots: Uint8Array, nowS: number, address?: string): void {
    if (universe < 0 || universe >= this.#heardS.length) return;
    this.#lastS = nowS;
    this.#toldS = nowS;
    this.#hasEnded = false;
    this.#saidEnd = false;
    this.#address = address;
    this.#heardS[universe] = nowS;
    this.#rememberedS[universe] = nowS;
    this.everywhere?.hear(universe, slots, nowS, address);
    this.levels.set(slots.subarray(0, SLOTS_PER_UNIVERSE), universe * SLOTS_PER_UNIVERSE);
  }

  /** Beside `hear`: it was Art-Net. */
  hearArtnet(nowS: number): void {
    this.#artnetS = nowS;
    this.everywhere?.hearArtnet(nowS);
  }

  /** A main machine by sACN. @param below the standby's priority: it comes back, and counts only for people */
  hearMain(below: boolean, nowS: number, address: string): void {
    if (below && nowS - this.#belowS > SOURCE_GONE_AFTER_S) this.#backS = nowS;
    this.#belowS = below ? nowS : Number.NEGATIVE_INFINITY;
    if (below) {
      this.#saidEnd = false;
      this.#toldS = nowS;
      this.#address = address;
    }
    this.everywhere?.hearMain(below, nowS, address);
  }

  /** Beside `hear`: it was sACN, or would have counted if its priority were not below the standby's. */
  hearSacn(universe: number, nowS: number): void {
    if (universe >= 0 && universe < this.#sacnS.length) this.#sacnS[universe] = nowS;
    this.everywhere?.hearSacn(universe, nowS);
  }

  /**
   * It has said that it ends its stream of this universe. That was the last one, and the machine ends, if no other
   * has been heard since its packet was due. A machine with a new show ends some, and goes on with the rest.
   */
  end(universe: number, nowS: number): void {
    this.everywhere?.end(universe, nowS);
    this.#hasEnded = true;
    this.#saidEnd = true;
    this.#heardS[universe] = Number.NEGATIVE_INFINITY;
    this.#sacnS[universe] = Number.NEGATIVE_INFINITY;
    if (this.#sacnS.some(heardS => nowS - heardS <= MISSED_AFTER_S)) return;
    this.#belowS = Number.NEGATIVE_INFINITY;
    this.#lastS = Number.NEGATIVE_INFINITY;
    this.#heardS.fill(Number.NEGATIVE_INFINITY);
  }

  /** What was heard of it here is of no use. */
  forget(): void {
    this.#lastS = Number.NEGATIVE_INFINITY;
    this.#artnetS = Number.NEGATIVE_INFINITY;
    this.#belowS = Number.NEGATIVE_INFINITY;
    this.#heardS.fill(Number.NEGATIVE_INFINITY);
    this.#rememberedS.fill(Number.NEGATIVE_INFINITY);
    this.#sacnS.fill(Number.NEGATIVE_INFINITY);
  }

  /** How it is, for people. */
  at(nowS: number): PartnerNews {
    const lastHeardS = this.#toldS;
    if (lastHeardS === undefined) return { other: 'never heard' };
    const address = this.#address;
    if (nowS - this.#belowS <= SOURCE_GONE_AFTER_S) {
      return { other: 'comes back', lastHeardS, address, backS: this.#backS };
    }
    const gone = this.#saidEnd ? 'ended' : 'silent';
    return { other: this.isHeard(nowS) ? 'heard' : gone, lastHeardS, address };
  }

  /** After an end its others are due: with many universes not all of them are listened to at a time. */
  isHeard(nowS: number): boolean {
    return nowS - this.#lastS <= (this.#hasEnded ? MISSED_AFTER_S : SOURCE_GONE_AFTER_S);
  }

  /** It sends Art-Net, or did within the time after which it counts as silent. */
  sendsArtnet(nowS: number): boolean {
    return nowS - this.#artnetS <= SOURCE_GONE_AFTER_S;
  }

  /** It may be gone: what it should have said by now has not come. */
  isMissed(nowS: number): boolean {
    return nowS - this.#lastS > MISSED_AFTER_S;
  }

  /** Whether receivers may still have its levels of this universe. */
  remembers(universe: number, nowS: number): boolean {
    return nowS - (this.#rememberedS[universe] ?? Number.NEGATIVE_INFINITY) <= REMEMBERED_S;
  }

  /** Whether its levels of this universe are of now. */
  knows(universe: number, nowS: number): boolean {
    return nowS - (this.#heardS[universe] ?? Number.NEGATIVE_INFINITY) <= SOURCE_GONE_AFTER_S;
  }
}
