import { createSocket, type Socket } from 'node:dgram';
import { encodePacket } from '../../protocols/osc/encode.js';
import { type EnabledClass, ORDER_ADDRESSES } from '../../protocols/osc/orders.js';

const REPEAT_MS = 250;
/** Held for so many repeats, then released for some: an output that is latched off comes back only so. */
const HELD = 80;
const RELEASED = 8;

/** A hand on the enable of the demo, as a desk would send it. It begins with nothing. */
export class EnableHand {
  readonly #socket: Socket = createSocket('udp4');
  readonly #datagram: Uint8Array;
  #timer: NodeJS.Timeout | undefined;
  #count = 0;

  constructor(
    hazard: EnabledClass,
    private readonly host: string,
    private readonly port: number,
  ) {
    const address = `${ORDER_ADDRESSES.enable}${hazard}`;
    this.#datagram = encodePacket({ address, args: [{ type: 'i', value: 1 }] });
    this.#socket.on('error', () => undefined); // nobody listens yet: the next repeat may be heard
  }

  /** Released first: to be called whenever the engine has the light, as what is pressed before that is refused. */
  start(): void {
    clearInterval(this.#timer);
    this.#count = 0;
    this.#timer = setInterval(() => this.#send(), REPEAT_MS);
  }

  stop(): void {
    clearInterval(this.#timer);
    this.#socket.close();
  }

  #send(): void {
    const isHeld = this.#count % (HELD + RELEASED) >= RELEASED;
    this.#count += 1;
    if (isHeld) this.#socket.send(this.#datagram, this.port, this.host);
  }
}
