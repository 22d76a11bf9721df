import { createSocket, type Socket } from 'node:dgram';
import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import type { LightingEvent } from './events.js';
import { findInterface, type LightingInterface } from './interfaces.js';

/** How often a lost interface is looked for, and failed sends are reported, seconds. */
const RETRY_S = 1;
/** Sends that may be under way; on a socket that takes them the kernel has each at once. */
const MAX_UNDER_WAY = 1024;
/** So many failures in a row, and the socket is opened anew. */
const REOPEN_AFTER_FAILURES = 100;
/** E1.31 leaves the TTL open; lighting networks with routers between gateways are rare, and 20 is ample. */
const MULTICAST_TTL = 20;

export interface SocketCounters {
  packets: number;
  sendErrors: number;
  /** Not sent because too many were under way, or no socket was open. */
  skipped: number;
  reopened: number;
}

/** What `createSocket` makes, as far as it is used here; a test may hand in another. */
export type SocketFactory = () => Socket;

/**
 * A hook for name look-ups that answers at once: all our addresses are numbers, and the default would
 * put off every send to the next turn of the event loop.
 */
export const openSocket: SocketFactory = () =>
  createSocket({
    type: 'udp4',
    lookup: (host, _options, done) => done(null, host, 4),
  });

/** One socket for all that leaves by one interface, bound to its address. */
export class LightingSocket {
  readonly counters: SocketCounters = { packets: 0, sendErrors: 0, skipped: 0, reopened: 0 };
  #socket: Socket | undefined;
  #where: LightingInterface | undefined;
  #opening = false;
  #closed = false;
  #underWay = 0;
  #failuresInRow = 0;
  #failuresUnreported = 0;
  #lastReason = '';
  #reportDueS = 0;
  #retryDueS = 0;
  polls: boolean;
  readonly #onSent = (error: Error | null) => this.#sent(error);

  constructor(
    private readonly wanted: string,
    wantsPoll: boolean,
    private readonly onEvent: (event: LightingEvent) => void,
    private readonly onMessage: (bytes: Buffer, from: string) => void,
    private readonly factory: SocketFactory = openSocket,
  ) {
    this.polls = wantsPoll;
  }

  get interface(): LightingInterface | undefined {
    return this.#where;
  }

  /** @returns why it could not be opened, or undefined */
  async open(): Promise<string | undefined> {
    const where = findInterface(this.wanted);
    if (where === undefined) return 'this machine has no such interface';
    let problem = await this.#bind(where, this.polls ? ARTNET_PORT : 0);
    if (problem?.code === 'EADDRINUSE' && this.polls) {
      this.polls = false;
      this.onEvent({ kind: 'poll-port-taken', interface: this.wanted });
      problem = await this.#bind(where, 0);
    }
    return problem?.message;
  }

  send(packet: Buffer, port: number, address: string): void {
    const socket = this.#socket;
    if (socket === undefined || this.#underWay >= MAX_UNDER_WAY) {
      this.counters.skipped += 1;
      return;
    }
    this.#underWay += 1;
    this.counters.packets += 1;
    try {
      socket.send(packet, port, address, this.#onSent);
    } catch (error) {
      // A socket that has just been closed throws instead of calling back.
      this.#sent(error instanceof Error ? error : new Error(String(error)));
    }
  }

  /** Once a beat: looks after a lost interface, and reports failures. */
  tend(nowS: number): void {
    if (this.#failuresUnreported > 0 && nowS >= this.#reportDueS) {
      this.#reportDueS = nowS + RETRY_S;
      const count = this.#failuresUnreported;
      this.#failuresUnreported = 0;
      this.onEvent({
        kind: 'send-failed',
        interface: this.wanted,
        reason: this.#lastReason,
        count,
      });
    }
    if (nowS < this.#retryDueS || this.#closed || this.#opening) return;
    this.#retryDueS = nowS + RETRY_S;
    if (this.#socket !== undefined) {
      const where = findInterface(this.wanted);
      if (where === undefined) this.#lose('the interface is gone');
      else if (where.address !== this.#where?.address) this.#lose('its address has changed');
      else if (this.#failuresInRow >= REOPEN_AFTER_FAILURES) this.#lose(this.#lastReason);
      else return;
    }
    void this.#reopen();
  }

  async close(): Promise<void> {
    this.#closed = true;
    const socket = this.#socket;
    this.#socket = undefined;
    if (socket === undefined) return;
    await new Promise<void>(resolve => {
      socket.close(() => resolve());
    });
  }

  async #reopen(): Promise<void> {
    this.#opening = true;
    const problem = await this.open();
    this.#opening = false;
    if (problem !== undefined || this.#where === undefined) return;
    if (this.#closed) return this.close();
    this.counters.reopened += 1;
    this.onEvent({ kind: 'interface-back', interface: this.wanted, address: this.#where.address });
  }

  #bind(where: LightingInterface, port: number): Promise<NodeJS.ErrnoException | undefined> {
    const socket = this.factory();
    return new Promise(resolve => {
      socket.once('error', error => {
        drop(socket);
        resolve(error);
      });
      socket.bind({ address: where.address, port, exclusive: true }, () => {
        socket.removeAllListeners('error');
        socket.on('error', error => {
          if (this.#socket === socket) this.#lose(error.message);
        });
        socket.on('message', (bytes, { address }) => this.onMessage(bytes, address));
        try {
          socket.setMulticastInterface(where.address);
          socket.setMulticastTTL(where.loopback ? 0 : MULTICAST_TTL);
          socket.setBroadcast(true);
        } catch (error) {
          drop(socket);
          resolve(error as NodeJS.ErrnoException);
          return;
        }
        this.#socket = socket;
        this.#where = where;
        this.#underWay = 0;
        this.#failuresInRow = 0;
        resolve(undefined);
      });
    });
  }

  #lose(reason: string): void {
    const socket = this.#socket;
    if (socket === undefined) return;
    this.#socket = undefined;
    drop(socket);
    this.onEvent({ kind: 'interface-lost', interface: this.wanted, reason });
  }

  #sent(error: Error | null): void {
    this.#underWay -= 1;
    if (error === null) {
      this.#failuresInRow = 0;
      return;
    }
    this.counters.sendErrors += 1;
    this.#failuresInRow += 1;
    this.#failuresUnreported += 1;
    this.#lastReason = error.message;
  }
}

function drop(socket: Socket): void {
  socket.removeAllListeners();
  // A closing socket may still report an error; nobody is left to care.
  socket.on('error', () => undefined);
  try {
    socket.close();
  } catch {
    // Never bound, or closed already.
  }
}
