import { createSocket, type Socket } from 'node:dgram';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import { dropSocket } from '../machine/drop-socket.js';
import type { LightingInterface } from './interfaces.js';

/** What makes a socket to listen with; a test may hand in another. */
export type ListenerFactory = () => Socket;

export const openListener: ListenerFactory = () => createSocket({ type: 'udp4', reuseAddr: true });

/**
 * So many universes are listened to at a time: our own packets come back to us, and each costs some
 * microseconds. With more the window moves on.
 */
const AT_ONCE = 8;
/** An unchanged universe is sent each second (E1.31 6.6.2), so that a window holds two packets. */
const WINDOW_S = 2;
/** All universes of a large house at the full rate from two sources, twice over. */
const MOST_A_SECOND = 12_000;
const CLOSED_FOR_S = 10;
const RECEIVE_BUFFER_BYTES = 128 * 1024;

export interface ListenerOptions {
  /** On the wire, ascending. */
  readonly universes: readonly number[];
  /** Levels are sent to addresses, not to groups: others may send to ours. */
  unicast(): boolean;
  readonly factory: ListenerFactory;
  onPacket(bytes: Buffer, address: string, port: number): void;
  /** More came than we care to look at. */
  onClosed(forS: number): void;
}

/**
 * Hears sACN on our own universes. Each group has a socket bound to it: on Linux such a socket gets
 * what is sent to that group and nothing else, so that it takes no packet away from a receiver on this
 * machine. Whatever fails here is not worth a word: it only means that less is heard.
 */
export class SacnListener {
  #sockets: Socket[] = [];
  #first = 0;
  #moveDueS = Number.NEGATIVE_INFINITY;
  #reopenS = Number.NEGATIVE_INFINITY;
  #heard = 0;
  #countedFromS = Number.NEGATIVE_INFINITY;
  #where: LightingInterface | undefined;

  #always = false;

  constructor(private readonly options: ListenerOptions) {}

  /** What is sent to our own address comes here. */
  get hearsUnicast(): boolean {
    return this.options.unicast();
  }

  /** Hear all universes all the time from now on, or as many at a time as cost little. */
  listenAlways(always: boolean): void {
    if (always === this.#always) return;
    this.#always = always;
    this.#first = 0;
    this.#moveDueS = Number.NEGATIVE_INFINITY;
  }

  /** Once a beat. */
  tend(where: LightingInterface | undefined, nowS: number): void {
    if (where?.address !== this.#where?.address) {
      this.close();
      this.#where = where;
      this.#moveDueS = Number.NEGATIVE_INFINITY;
    }
    if (where === undefined || nowS < this.#reopenS) return;
    if (nowS - this.#countedFromS >= 1) {
      this.#countedFromS = nowS;
      this.#heard = 0;
    } else if (this.#heard > MOST_A_SECOND) {
      this.#reopenS = nowS + CLOSED_FOR_S;
      this.#heard = 0;
      this.#moveDueS = Number.NEGATIVE_INFINITY;
      this.close();
      this.options.onClosed(CLOSED_FOR_S);
      return;
    }
    if (nowS < this.#moveDueS) return;
    const { universes } = this.options;
    const all = this.#always || universes.length <= AT_ONCE;
    this.#moveDueS = all ? Number.POSITIVE_INFINITY : nowS + WINDOW_S;
    this.close();
    const some = all ? universes : universes.slice(this.#first, this.#first + AT_ONCE);
    this.#first = this.#first + AT_ONCE < universes.length ? this.#first + AT_ONCE : 0;
    for (const universe of some) this.#open(multicastGroup(universe), where.address);
    if (this.options.unicast()) this.#open(undefined, where.address);
  }

  close(): void {
    for (const socket of this.#sockets) dropSocket(socket);
    this.#sockets = [];
  }

  #open(group: string | undefined, address: string): void {
    const socket = this.options.factory();
    this.#sockets.push(socket);
    socket.on('error', () => dropSocket(socket));
    socket.on('message', (bytes, from) => {
      this.#heard += 1;
      this.options.onPacket(bytes, from.address, from.port);
    });
    socket.bind({ address: group ?? address, port: SACN_PORT }, () => {
      try {
        if (group !== undefined) socket.addMembership(group, address);
        socket.setRecvBufferSize(RECEIVE_BUFFER_BYTES);
      } catch {
        dropSocket(socket);
      }
    });
  }
}

/** How long it takes to have heard so many universes, seconds. */
export function listenerCycleS(universes: number): number {
  return WINDOW_S * Math.ceil(universes / AT_ONCE);
}
