import { createSocket, type Socket } from 'node:dgram';
import { encodePacket } from '../../protocols/osc/encode.js';
import { MAIN, ORDER_ADDRESSES } from '../../protocols/osc/orders.js';
import type { Show } from '../../show/model.js';

const EVERY_MS = 1000;

/** What is to be told to the other machine. */
export interface CueToRepeat {
  readonly show: Show;
  /** Index of the cue that is on. */
  readonly cue: number;
}

/**
 * Tells the standby machine once a second, at its operator's port, which cue is on: it may have missed an order, or have
 * begun later. A packet that is lost is followed by the next; nothing waits for an answer.
 */
export class CueRepeater {
  readonly #timer: NodeJS.Timeout;
  #socket: Socket | undefined;

  /** @param now undefined: this machine has nothing to say, as another one leads, or its light is not live */
  constructor(private readonly now: () => CueToRepeat | undefined) {
    this.#timer = setInterval(() => this.#tell(), EVERY_MS).unref();
  }

  close(): void {
    clearInterval(this.#timer);
    this.#socket?.close();
  }

  #tell(): void {
    const said = this.now();
    const { operator, cues, inputs } = said?.show ?? {};
    const name = cues?.[said?.cue ?? 0]?.name;
    const port = inputs?.[operator?.input ?? -1]?.port;
    if (operator?.standby === undefined || name === undefined || port === undefined) return;
    this.#socket ??= this.#open();
    const args = [name, MAIN].map(value => ({ type: 's' as const, value }));
    const bytes = encodePacket({ address: ORDER_ADDRESSES.cue, args });
    this.#socket.send(bytes, port, operator.standby, () => undefined);
  }

  #open(): Socket {
    const socket = createSocket('udp4');
    // The other machine, or its network, is gone: it is told again in a second.
    socket.on('error', () => undefined);
    return socket.unref();
  }
}
