import type { Socket } from 'node:dgram';
import { messageOf } from '../../stage/message-of.js';
import { monotonicS } from './clock.js';

/** A switch that has forgotten us, or an interface that was down, is asked anew after so long a silence, seconds. */
const JOIN_AGAIN_AFTER_S = 5;

/** The membership of a socket in a multicast group. */
export class GroupMembership {
  #dueS = 0;

  constructor(private readonly group: string) {}

  /** @returns why not, in plain words; undefined where it has joined */
  join(socket: Socket, address: string): string | undefined {
    this.heard();
    try {
      socket.addMembership(this.group, address);
      return undefined;
    } catch (error) {
      return messageOf(error);
    }
  }

  heard(): void {
    this.#dueS = monotonicS() + JOIN_AGAIN_AFTER_S;
  }

  /** While nothing comes it leaves and joins, which tells the switch. */
  tend(socket: Socket, address: string): void {
    if (monotonicS() < this.#dueS) return;
    try {
      socket.dropMembership(this.group, address);
    } catch {
      // The interface took it along.
    }
    this.join(socket, address);
  }
}
