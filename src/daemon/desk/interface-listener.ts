import { createSocket, type Socket } from 'node:dgram';
import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import { messageOf } from '../../stage/message-of.js';
import {
  DOWN,
  findInterface,
  type InterfaceFinder,
  interfaceIndex,
  interfacesThere,
  isDown,
  type LightingInterface,
} from '../lighting/interfaces.js';
import { dropSocket } from '../machine/drop-socket.js';
import { GroupMembership } from '../machine/group-membership.js';

/** How often the interface is looked at, seconds. */
const LOOK_S = 1;
/** A burst of all universes waits in the kernel until a beat is over. */
const RECEIVE_BUFFER_BYTES = 512 * 1024;
/** For one group: four sources at the highest rate of DMX512, several times over. */
const MOST_OF_A_GROUP = 1000;
/** Packets to our own address may be for any universe. */
const MOST_OF_AN_ADDRESS = 6000;
const CLOSED_FOR_S = 2;

export interface ListenerOptions {
  readonly protocol: 'sacn' | 'artnet';
  /** Address or name of the interface. */
  readonly interface: string;
  /** sACN: whose groups are to be joined, of universes and of their synchronization; asked at each look. */
  groups(): readonly number[];
  /** A lighting socket of ours has the port at this address, and hands on what comes there. */
  hasPort(address: string): boolean;
  onPacket(bytes: Buffer, from: string): void;
  /** @param reason undefined: it can hear now */
  onDeaf(reason: string | undefined): void;
  /** Too much came in on one socket: it is closed for this long. */
  onFlood(forS: number): void;
  readonly find?: InterfaceFinder | undefined;
}

interface EarSocket {
  /** The group; undefined: our own address, or the broadcast one. */
  readonly group: string | undefined;
  readonly at: string;
  socket: Socket | undefined;
  readonly membership: GroupMembership | undefined;
  /** Since the last look. */
  heard: number;
  readonly most: number;
  closedUntilS: number;
  /** Why it could not be opened, or was lost. */
  fault: string | undefined;
}

/**
 * Hears what a desk sends by one interface. Each sACN universe has a socket bound to its group, and so has each synchronization address: on Linux such a socket gets what is
 * sent to that group and nothing else. Nothing here throws; what is lost is tried again each second.
 */
export class InterfaceListener {
  #where: LightingInterface | undefined;
  #name: string;
  #identity: string | undefined;
  #sockets: EarSocket[] = [];
  #lookDueS = Number.NEGATIVE_INFINITY;
  /** As it was told last; undefined: not yet. */
  #deaf: boolean | undefined;
  #reply: Socket | undefined;

  constructor(private readonly options: ListenerOptions) {
    this.#name = options.interface;
  }

  /** undefined while the interface is lost. */
  get interface(): LightingInterface | undefined {
    return this.#where;
  }

  /** Whether answers to polls are ours to give: no lighting socket does. */
  get hasOwnPort(): boolean {
    return this.#reply !== undefined;
  }

  /** Once a beat. */
  tend(nowS: number): void {
    if (nowS < this.#lookDueS) return;
    this.#lookDueS = nowS + LOOK_S;
    const find = this.options.find ?? findInterface;
    const where = find(this.options.interface);
    const identity = where && `${where.address}#${interfaceIndex(where.name) ?? where.name}`;
    if (identity !== this.#identity) this.close();
    this.#where = where;
    // One that is down has no address: by that it was known by this name.
    this.#name = where?.name ?? this.#name;
    this.#identity = identity;
    if (where === undefined) {
      const wanted = this.options.interface;
      this.#tell(
        isDown(this.#name)
          ? DOWN
          : `this machine has no interface ${wanted}; it has ${interfacesThere()}`,
      );
      return;
    }
    if (this.#sockets.length > 0) {
      this.#tell(this.#sockets.find(({ fault }) => fault !== undefined)?.fault);
    }
    this.#plan(where);
    const ownPort = !this.options.hasPort(where.address);
    for (const one of this.#sockets) {
      if (one.group === undefined && !ownPort) {
        this.#drop(one);
        one.fault = undefined;
      } else this.#tendSocket(one, where, nowS);
    }
  }

  /** Groups have changed: it looks with the next beat. */
  lookSoon(): void {
    this.#lookDueS = Number.NEGATIVE_INFINITY;
  }

  /** @param to an address on this interface's network */
  answer(bytes: Buffer, to: string): void {
    this.#reply?.send(bytes, ARTNET_PORT, to, () => undefined);
  }

  close(): void {
    for (const one of this.#sockets) this.#drop(one);
    this.#sockets = [];
    this.#lookDueS = Number.NEGATIVE_INFINITY;
  }

  /** Sockets that are still wanted stay, whatever has come by them. */
  #plan({ address, broadcast }: LightingInterface): void {
    const { protocol, groups } = this.options;
    const wanted = new Set(protocol === 'sacn' ? groups().map(multicastGroup) : [broadcast]);
    for (const one of this.#sockets) if (one.at !== address && !wanted.has(one.at)) this.#drop(one);
    this.#sockets = this.#sockets.filter(({ at }) => at === address || wanted.has(at));
    const has = new Set(this.#sockets.map(({ at }) => at));
    const socketAt = (at: string, group?: string): EarSocket => ({
      group,
      at,
      socket: undefined,
      membership: group === undefined ? undefined : new GroupMembership(group),
      heard: 0,
      most: group === undefined ? MOST_OF_AN_ADDRESS : MOST_OF_A_GROUP,
      closedUntilS: Number.NEGATIVE_INFINITY,
      fault: undefined,
    });
    if (!has.has(address)) this.#sockets.push(socketAt(address));
    for (const at of wanted) {
      if (!has.has(at) && at !== address) {
        this.#sockets.push(socketAt(at, protocol === 'sacn' ? at : undefined));
      }
    }
  }

  #tendSocket(one: EarSocket, where: LightingInterface, nowS: number): void {
    if (nowS < one.closedUntilS) return;
    const { heard, most, socket } = one;
    one.heard = 0;
    if (heard > 0) one.membership?.heard();
    if (socket === undefined) {
      this.#open(one, where);
    } else if (heard > most) {
      this.#drop(one);
      one.closedUntilS = nowS + CLOSED_FOR_S;
      this.options.onFlood(CLOSED_FOR_S);
    } else one.membership?.tend(socket, where.address);
  }

  #open(one: EarSocket, where: LightingInterface): void {
    const { protocol, onPacket } = this.options;
    const port = protocol === 'sacn' ? SACN_PORT : ARTNET_PORT;
    // Of a group each socket bound to it gets all; of an address the last one.
    const socket = createSocket({
      type: 'udp4',
      reuseAddr: true,
      lookup: (host, _options, done) => done(null, host, 4),
    });
    one.socket = socket;
    socket.on('error', error => {
      this.#drop(one);
      one.fault = `port ${port} of ${one.at}: ${messageOf(error)}`;
    });
    socket.bind({ address: one.at, port }, () => {
      const fault = one.membership?.join(socket, where.address);
      if (fault !== undefined) {
        this.#drop(one);
        one.fault = `it can't join ${one.group}: ${fault}`;
        return;
      }
      one.fault = undefined;
      try {
        socket.setRecvBufferSize(RECEIVE_BUFFER_BYTES);
      } catch {
        // The kernel's limit is lower; its default buffer serves.
      }
      if (protocol === 'artnet' && one.at === where.address) this.#reply = socket;
      socket.on('message', (bytes, { address }) => {
        one.heard += 1;
        // Beyond what any honest sender sends, packets are not even looked at.
        if (one.heard > one.most) return;
        onPacket(bytes, address);
      });
    });
  }

  #drop(one: EarSocket): void {
    if (one.socket === undefined) return;
    if (one.socket === this.#reply) this.#reply = undefined;
    dropSocket(one.socket);
    one.socket = undefined;
  }

  #tell(reason: string | undefined): void {
    const isDeaf = reason !== undefined;
    if (isDeaf === this.#deaf) return;
    const isFirst = this.#deaf === undefined;
    this.#deaf = isDeaf;
    if (isDeaf || !isFirst) this.options.onDeaf(reason);
  }
}
