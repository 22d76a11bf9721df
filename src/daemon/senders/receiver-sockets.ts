import { createSocket, type Socket } from 'node:dgram';
import type { ReceiverPlan } from '../../show/model/model.js';
import { messageOf } from '../../stage/message-of.js';
import {
  absenceOf,
  findInterface,
  type InterfaceFinder,
  type LightingInterface,
} from '../lighting/interfaces.js';
import { monotonicS } from '../machine/clock.js';
import { dropSocket } from '../machine/drop-socket.js';

/** Through some routers and switches, as streams of levels; no farther. */
const MULTICAST_TTL = 20;
/** To list the interfaces takes longer than to send. */
const LOOKED_UP_FOR_S = 1;

/** Datagrams under way at one address of this machine; more are left out. A network that works takes each at once. */
const MOST_UNDER_WAY = 256;

/**
 * Told when a receiver can't be sent to, and (undefined) when it can again.
 * @param leftOut messages to it that were left out in between; 0 until it can again
 */
export type ReceiverFault = (receiver: string, fault: string | undefined, leftOut: number) => void;

/** A socket at one address of this machine, and the receivers to whom something is on its way. */
interface Line {
  readonly socket: Socket;
  readonly waiting: Set<string>;
  underWay: number;
}

/** Sends datagrams to receivers of the show, from the interfaces that they name. Nothing waits for it, and nothing fails for it. */
export class ReceiverSockets {
  readonly #lines = new Map<string, Line>();
  /** By receiver, what keeps it from being told. */
  readonly #faults = new Map<string, string>();
  /** By receiver, messages that were left out since it could be told last. */
  readonly #leftOut = new Map<string, number>();
  readonly #found = new Map<string, { where: LightingInterface | undefined; atS: number }>();

  constructor(
    private readonly onFault: ReceiverFault,
    private readonly find: InterfaceFinder = findInterface,
  ) {}

  send(receiver: ReceiverPlan, datagrams: readonly Buffer[]): void {
    const from = this.#interfaceOf(receiver.interface);
    if (from === undefined) {
      this.#tell(receiver.name, absenceOf(receiver.interface));
      return;
    }
    const line = this.#lineAt(from.address);
    const { socket, waiting } = line;
    if (datagrams.length > 0) waiting.add(receiver.name);
    for (const datagram of datagrams) {
      if (line.underWay === MOST_UNDER_WAY) {
        this.#leftOut.set(receiver.name, (this.#leftOut.get(receiver.name) ?? 0) + 1);
        this.#tell(receiver.name, `its network accepts nothing from ${from.address} at the moment`);
        continue;
      }
      line.underWay += 1;
      socket.send(datagram, receiver.port, receiver.address, error => {
        line.underWay -= 1;
        waiting.delete(receiver.name);
        // Where some was left out it can be told again once nothing waits any more.
        const isBehind = error === null && line.underWay > 0 && this.#leftOut.has(receiver.name);
        if (!isBehind) this.#tell(receiver.name, error === null ? undefined : messageOf(error));
        if (error !== null) this.#drop(from.address, socket);
      });
    }
  }

  end(): void {
    for (const [address, { socket }] of this.#lines) this.#drop(address, socket);
  }

  #interfaceOf(wanted: string): LightingInterface | undefined {
    const nowS = monotonicS();
    const known = this.#found.get(wanted);
    if (known !== undefined && nowS - known.atS < LOOKED_UP_FOR_S) return known.where;
    const where = this.find(wanted);
    this.#found.set(wanted, { where, atS: nowS });
    return where;
  }

  #lineAt(address: string): Line {
    const there = this.#lines.get(address);
    if (there !== undefined) return there;
    const socket = createSocket('udp4');
    const waiting = new Set<string>();
    // A send that fails says so itself; one that waits for an address that is gone is never called back.
    socket.on('error', error => {
      for (const name of waiting) this.#tell(name, messageOf(error));
      this.#drop(address, socket);
    });
    // Before what is sent now leaves: that waits for the same event, behind this.
    socket.bind({ address, exclusive: true }, () => {
      try {
        socket.setMulticastInterface(address);
        socket.setMulticastTTL(MULTICAST_TTL);
      } catch {
        // The interface has gone in the meantime, and the send fails.
      }
    });
    socket.unref();
    const line = { socket, waiting, underWay: 0 };
    this.#lines.set(address, line);
    return line;
  }

  #drop(address: string, socket: Socket): void {
    if (this.#lines.get(address)?.socket !== socket) return;
    this.#lines.delete(address);
    dropSocket(socket);
  }

  #tell(receiver: string, fault: string | undefined): void {
    if (this.#faults.get(receiver) === fault) return;
    if (fault !== undefined) {
      this.#faults.set(receiver, fault);
      this.onFault(receiver, fault, 0);
      return;
    }
    const leftOut = this.#leftOut.get(receiver) ?? 0;
    this.#faults.delete(receiver);
    this.#leftOut.delete(receiver);
    this.onFault(receiver, undefined, leftOut);
  }
}
