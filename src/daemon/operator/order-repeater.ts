import { createSocket, type Socket } from 'node:dgram';
import { encodePacket } from '../../protocols/osc/encode.js';
import { MAIN, ORDER_ADDRESSES } from '../../protocols/osc/orders.js';
import type { Show } from '../../show/model/model.js';

const EVERY_MS = 1000;

/** What is to be told to the other machine. */
export interface Repeated {
  readonly show: Show;
  /** Index of the cue that is on. */
  readonly cue: number;
  /** By head, on whom it is by order. */
  readonly pins: Readonly<Record<string, string>>;
  /** By title, mappings that are off. */
  readonly mappingsOff: readonly string[];
}

/**
 * Tells the standby machine once a second, at its operator's port, which cue is on, which mappings are off, and which
 * heads are pinned to whom: it may have missed an order, or have begun later. A packet that is lost is followed by the next; nothing waits for an answer.
 */
export class OrderRepeater {
  readonly #timer: NodeJS.Timeout;
  #socket: Socket | undefined;

  /** @param now undefined: this machine has nothing to say, as another one leads, or its light is not live */
  constructor(private readonly now: () => Repeated | undefined) {
    this.#timer = setInterval(() => this.#tell(), EVERY_MS).unref();
  }

  close(): void {
    clearInterval(this.#timer);
    this.#socket?.close();
  }

  #tell(): void {
    const said = this.now();
    if (said === undefined) return;
    const { operator, cues, inputs, mappings } = said.show;
    const port = inputs[operator?.input ?? -1]?.port;
    if (operator?.standby === undefined || port === undefined) return;
    const cue = cues[said.cue]?.name;
    if (cue !== undefined) this.#send(ORDER_ADDRESSES.cue, [cue, MAIN], port, operator.standby);
    if (mappings.length > 0) {
      const words = [MAIN, ...said.mappingsOff];
      this.#send(ORDER_ADDRESSES.mappings, words, port, operator.standby);
    }
    if (!mappings.some(one => one.kind === 'follow' && one.choice !== undefined)) return;
    const pins = Object.entries(said.pins).flat();
    this.#send(ORDER_ADDRESSES.pins, [MAIN, ...pins], port, operator.standby);
  }

  #send(address: string, words: readonly string[], port: number, host: string): void {
    this.#socket ??= this.#open();
    const args = words.map(value => ({ type: 's' as const, value }));
    this.#socket.send(encodePacket({ address, args }), port, host, () => undefined);
  }

  #open(): Socket {
    const socket = createSocket('udp4');
    // The other machine, or its network, is gone: it is told again in a second.
    socket.on('error', () => undefined);
    return socket.unref();
  }
}
