import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import type { Line } from './line.js';

/** Which ports our lighting sockets have, and what leaves by them: two sockets on one port take packets away from each other. */
export class OwnPorts {
  constructor(private readonly lines: readonly Line[]) {}

  /** Whether one of them has the port of this protocol at an address: what a desk sends there comes to us. */
  has(protocol: 'sacn' | 'artnet', address: string): boolean {
    return this.lines.some(({ socket, listener }) => {
      if (socket.interface?.address !== address) return false;
      if (protocol === 'artnet') return socket.port === ARTNET_PORT;
      return listener?.hearsUnicast === true;
    });
  }

  /** Whether we send this Port-Address from that address. */
  sendsArtnet(portAddress: number, address: string): boolean {
    return this.lines.some(
      ({ socket, streams }) =>
        socket.interface?.address === address &&
        streams.some(({ plan, onWire }) => plan.protocol === 'artnet' && onWire === portAddress),
    );
  }
}
