import type { EngineEvent } from '../../engine/events/events.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import { decodeDatagram, MAX_BUNDLE_DEPTH, type OscVisitor } from '../../protocols/osc/decode.js';
import type { OscArgument } from '../../protocols/osc/library.js';
import { ORDER_ADDRESSES, readOrder } from '../../protocols/osc/orders.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { findNamed } from '../../show/problems/names.js';
import { unreachable } from '../../stage/unreachable.js';
import type { OperatorKeeping } from './keeping.js';

/**
 * A frame shows that the engine has taken whatever was handed to it this long before, seconds: it reads its orders
 * several times in each tick of 25 ms.
 */
const TAKEN_WITHIN_S = 0.25;

/** A datagram of an input that carries orders. */
export interface HeardOrders {
  readonly plan: Pick<InputPlan, 'maxDatagramBytes'>;
  readonly bytes: Buffer;
  /** Monotonic seconds. */
  readonly arrivalS: number;
  /** Address of the sender. */
  readonly from: string | undefined;
  /** An engine has been sent it, whether it still reads or not. */
  readonly isForwarded: boolean;
}

/** A stop or a resume that no engine took, or orders that are lost. */
export type KeptStopEvent =
  | {
      readonly kind: 'stop-kept';
      readonly change: Extract<EngineEvent, { kind: 'stopped' | 'resumed' }>;
    }
  /** Cues, pins, and who is off stage: ordered while no engine ran, or handed to one that ended before it answered. */
  | { readonly kind: 'orders-lost'; readonly count: number };

/** Each datagram with an order that is lost with its engine contains one of these. */
const MAY_BE_LOST = [
  ORDER_ADDRESSES.cue,
  ORDER_ADDRESSES.pin,
  ORDER_ADDRESSES.unpin,
  ORDER_ADDRESSES.off,
  ORDER_ADDRESSES.on,
] as const;
/** Lost orders are reported at once; in a flood, once in this time, seconds. */
const TOLD_EVERY_S = 1;
/** Orders handed on within this time of each other count as one, seconds: a flood makes a short list. */
const TOGETHER_S = 0.01;

export interface KeptStopsOptions {
  readonly keeping: Pick<OperatorKeeping, 'stopNext' | 'stops'>;
  show(): Show;
  /** Frames come on time. */
  isWell(nowS: number): boolean;
  /** When the last one came that was on time, monotonic seconds; undefined: the present engine has sent none. */
  frameS(): number | undefined;
  /** @returns whether there is an engine to do it */
  operate(actions: readonly OperatorAction[]): boolean;
  onEvent(event: KeptStopEvent): void;
}

interface StopOrder {
  readonly stops: boolean;
  /** By the name in the show; undefined: everybody. */
  readonly performer: string | undefined;
  readonly by: string | undefined;
  readonly atS: number;
}

/**
 * Stops and resumes by OSC that an engine may never take because it hangs, dies or is being started: they are kept
 * like those of `lampwright tell`, and the next engine begins with them.
 */
export class KeptStops {
  /** The last order for each performer, and for everybody, that no frame has answered yet; in order. */
  #unanswered: StopOrder[] = [];
  /** Kept while an engine was there but silent: if it goes on after all, it is told again. */
  #owed: OperatorAction[] = [];
  #lost = 0;
  #lostToldS = Number.NEGATIVE_INFINITY;
  /** How many other orders have been handed to the engine, and when, that no frame has answered yet. */
  #handed: { readonly sinceS: number; readonly atS: number; readonly count: number }[] = [];
  readonly #visitor: OscVisitor;
  #orders: HeardOrders | undefined;

  constructor(private readonly options: KeptStopsOptions) {
    this.#visitor = {
      message: (address, args) => this.#message(address, args),
      // The engine counts it.
      rejected: () => undefined,
    };
  }

  hear(orders: HeardOrders, nowS: number): void {
    const { bytes, plan, isForwarded } = orders;
    const mayStop = bytes.includes(ORDER_ADDRESSES.stop) || bytes.includes(ORDER_ADDRESSES.resume);
    if (isForwarded && !mayStop && !MAY_BE_LOST.some(address => bytes.includes(address))) return;
    this.#orders = orders;
    const limits = { maxDatagramBytes: plan.maxDatagramBytes, maxBundleDepth: MAX_BUNDLE_DEPTH };
    decodeDatagram(bytes, limits, this.#visitor);
    if (this.#unanswered.length > 0) this.look(nowS);
  }

  /** Once a beat, and when an engine has ended: keeps what no engine has taken or will take. */
  look(nowS: number): void {
    const { frameS, isWell, operate } = this.options;
    if (nowS - this.#lostToldS >= TOLD_EVERY_S) this.#tellLost(nowS);
    if (isWell(nowS)) {
      if (this.#unanswered.length > 0) this.#unanswered = this.#since(frameS());
      if (this.#handed.length > 0) this.#handed = this.#handedSince(frameS());
      if (this.#owed.length > 0 && operate(this.#owed)) this.#owed = [];
      return;
    }
    if (this.#unanswered.length === 0) return;
    const toKeep = this.#since(frameS());
    this.#unanswered = [];
    for (const order of toKeep) this.#keep(order);
  }

  /** The next one begins with all that is kept. */
  engineEnded(nowS: number): void {
    this.look(nowS);
    this.#owed = [];
    // Nobody knows whether it carried out the orders that it took just before it ended.
    for (const { count } of this.#handedSince(this.options.frameS())) this.#lost += count;
    this.#handed = [];
  }

  engineBegins(): void {
    this.#tellLost(Number.NEGATIVE_INFINITY);
  }

  #tellLost(nowS: number): void {
    if (this.#lost === 0) return;
    this.options.onEvent({ kind: 'orders-lost', count: this.#lost });
    this.#lost = 0;
    this.#lostToldS = nowS;
  }

  #since(frameS = Number.NEGATIVE_INFINITY): StopOrder[] {
    return this.#unanswered.filter(({ atS }) => atS > frameS - TAKEN_WITHIN_S);
  }

  #handedSince(frameS = Number.NEGATIVE_INFINITY) {
    return this.#handed.filter(({ atS }) => atS > frameS - TAKEN_WITHIN_S);
  }

  #hand(atS: number): void {
    const last = this.#handed.at(-1);
    if (last === undefined || atS - last.sinceS > TOGETHER_S) {
      this.#handed.push({ sinceS: atS, atS, count: 1 });
    } else this.#handed[this.#handed.length - 1] = { ...last, atS, count: last.count + 1 };
  }

  #message(address: string, args: readonly OscArgument[]): void {
    const orders = this.#orders;
    const order = readOrder(address, args);
    if (orders === undefined || typeof order === 'string') return;
    switch (order.kind) {
      case 'stop':
      case 'resume':
        this.#note(order.kind === 'stop', order.performers, orders);
        break;
      case 'cue':
      case 'pin':
      case 'off':
      case 'on':
        if ('repeated' in order) break;
        if (orders.isForwarded) this.#hand(orders.arrivalS);
        else this.#lost += 1;
        break;
      // An enable: repeated by whoever holds it.
      case 'enable':
      case 'desk':
      case 'mappings':
      case 'performers':
      case 'show':
        break;
      default:
        unreachable(order);
    }
  }

  /** @param names none means everybody */
  #note(stops: boolean, names: readonly string[], { arrivalS: atS, from: by }: HeardOrders): void {
    if (names.length === 0) this.#unanswered = [{ stops, performer: undefined, by, atS }];
    const { performers } = this.options.show();
    for (const word of names) {
      const performer = findNamed(word, performers)?.name;
      // The engine refuses it.
      if (performer === undefined) continue;
      this.#unanswered = this.#unanswered.filter(one => one.performer !== performer);
      this.#unanswered.push({ stops, performer, by, atS });
    }
  }

  #keep({ stops, performer, by }: StopOrder): void {
    const { keeping, onEvent } = this.options;
    const before = new Set(keeping.stops.performers);
    const wasEverybody = keeping.stops.everybody;
    keeping.stopNext(performer, stops, by);
    const { performers, everybody } = keeping.stops;
    const kind = stops ? 'stop' : 'resume';
    this.#owed.push({ kind, performer, cause: 'command', by });
    const changed = stops
      ? performers.filter(name => !before.has(name))
      : [...before].filter(name => !performers.includes(name));
    if (changed.length === 0 && everybody === wasEverybody) return;
    onEvent({
      kind: 'stop-kept',
      change: {
        kind: stops ? 'stopped' : 'resumed',
        performers: changed,
        everybody: performer === undefined,
        cause: 'command',
        ...(by === undefined ? {} : { by }),
        stillStopped: performers,
        stopOfEverybody: everybody,
      },
    });
  }
}
