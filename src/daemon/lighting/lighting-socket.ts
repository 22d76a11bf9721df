import { createSocket, type Socket } from 'node:dgram';
import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { dropSocket } from '../machine/drop-socket.js';
import type { PacketOf, Sender, Sent } from './delivery.js';
import type { LightingEvent } from './events.js';
import {
  type CarrierReader,
  DOWN,
  findInterface,
  type InterfaceFinder,
  isDown,
  type LightingInterface,
  NO_CARRIER,
  readCarrier,
} from './interfaces.js';
import { LinkNews } from './link-news.js';
import { SendFailures } from './send-failures.js';

/** How often the carrier is looked at, seconds: a machine of a pair that was out has to know before it is back. */
const CARRIER_LOOK_S = 0.2;
/** How often an interface is looked at, and a lost one looked for, seconds. */
const LOOK_S = 1;
/** So many failures with no success between, of a kind that a new socket may mend, and it is opened anew. */
const REOPEN_AFTER_FAILURES = 3;
/** A new socket that fails as well is given ever more time, up to this, seconds: a log must stay readable. */
const LONGEST_REOPEN_S = 32;
/**
 * The interface, its address or its network is gone, or the socket is. Others (EACCES and EPERM of a
 * firewall, ENOBUFS, EMSGSIZE ...) would meet a new socket too.
 */
const INTERFACE_IS_DEAD: ReadonlySet<string> = new Set([
  'EADDRNOTAVAIL',
  'EBADF',
  'EINVAL',
  'EIO',
  'ENETDOWN',
  'ENETRESET',
  'ENETUNREACH',
  'ENODEV',
  'ENOTSOCK',
  'ENXIO',
]);
/**
 * E1.31 leaves the TTL open. Gateways are rarely behind a router, and multicast passes only those that
 * were set up for it, so that some hops do no harm.
 */
const MULTICAST_TTL = 20;

/** Since the start, over all sockets that this interface has had. */
export interface SocketCounters {
  /** Datagrams and their bytes of payload that the system has taken. */
  packets: number;
  bytes: number;
  /** Datagrams that it has refused. */
  sendErrors: number;
  /** Not sent because the interface was lost. */
  skippedLost: number;
  /** Not sent because those before were still under way. */
  skippedBusy: number;
  reopened: number;
}

/** What `createSocket` makes; a test may hand in another. */
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

export interface LightingSocketOptions {
  /** Address or name of the interface. */
  readonly interface: string;
  /** Whether to take the port that Art-Net nodes answer to. */
  readonly polls: boolean;
  /**
   * Datagrams that may be under way. The system takes each at once, but says so only after the beat;
   * so this is several beats' worth, and a socket that is stuck can't fill the memory.
   */
  readonly mostUnderWay: number;
  onEvent(event: LightingEvent): void;
  onMessage(bytes: Buffer, from: string): void;
  readonly socketFactory?: SocketFactory | undefined;
  readonly findInterface?: InterfaceFinder | undefined;
  readonly readCarrier?: CarrierReader | undefined;
}

const STUCK =
  "the network can't keep up, and the send buffer is full: is it jammed, or slower than the show?";

/** One socket for all that leaves by one interface, bound to its address. Nothing here throws. */
export class LightingSocket {
  readonly counters: SocketCounters = {
    packets: 0,
    bytes: 0,
    sendErrors: 0,
    skippedLost: 0,
    skippedBusy: 0,
    reopened: 0,
  };
  #socket: Socket | undefined;
  /** Hears the nodes that answer to everybody. */
  #broadcastSocket: Socket | undefined;
  #where: LightingInterface | undefined;
  #opening: Promise<void> | undefined;
  #closed = false;
  /** It has been said that the interface is lost. */
  #isLost = false;
  #carrier = true;
  #polls: boolean;
  /** Datagrams given to this socket; of these, taken or refused by the system; given before this beat. */
  #given = 0;
  #settled = 0;
  #givenBefore = 0;
  #failuresInRow = 0;
  #lastCode = '';
  #lookDueS = Number.NEGATIVE_INFINITY;
  #carrierDueS = Number.NEGATIVE_INFINITY;
  #reopenDueS = Number.NEGATIVE_INFINITY;
  #reopenWaitS = LOOK_S;
  #onSent: Sent = () => undefined;
  #nowS = 0;
  readonly #failures: SendFailures;
  readonly #news: LinkNews;
  readonly #find: InterfaceFinder;
  readonly #make: SocketFactory;
  readonly #readCarrier: CarrierReader;

  constructor(private readonly options: LightingSocketOptions) {
    this.#polls = options.polls;
    this.#failures = new SendFailures(options.interface, options.onEvent);
    this.#news = new LinkNews(options.interface, options.onEvent);
    this.#find = options.findInterface ?? findInterface;
    this.#make = options.socketFactory ?? openSocket;
    this.#readCarrier = options.readCarrier ?? readCarrier;
  }

  /** undefined while the interface is lost. */
  get interface(): LightingInterface | undefined {
    return this.#socket === undefined ? undefined : this.#where;
  }

  /** Whether a cable was in when it was last looked at. */
  get hasCarrier(): boolean {
    return this.#carrier;
  }

  /** The port that we send from. */
  get port(): number | undefined {
    try {
      return this.#socket?.address().port;
    } catch {
      return undefined; // not bound any more
    }
  }

  /** Whether nodes can be asked: false where another program has the port. */
  get polls(): boolean {
    return this.#polls;
  }

  /** @returns why it could not be opened, or undefined; it is lost then, and looked for */
  async open(): Promise<string | undefined> {
    const problem = await this.#tryOpen();
    this.#isLost = problem !== undefined;
    return problem;
  }

  async #tryOpen(): Promise<string | undefined> {
    const where = this.#find(this.options.interface);
    if (where === undefined) return 'this machine has no such interface';
    if (!this.options.polls) return inWords(await this.#bind(where, 0));
    const problem = await this.#bind(where, ARTNET_PORT);
    if (problem?.code !== 'EADDRINUSE') {
      if (problem === undefined) await this.#hearBroadcasts(where);
      this.#polls = true;
      return inWords(problem);
    }
    if (this.#polls) {
      this.#polls = false;
      this.options.onEvent({ kind: 'poll-port-taken', interface: this.options.interface });
    }
    return inWords(await this.#bind(where, 0));
  }

  /** @param sender is told what becomes of it */
  send(packet: Buffer, port: number, address: string, sender: Sender): void {
    const socket = this.#socket;
    if (socket === undefined) {
      this.counters.skippedLost += 1;
      return;
    }
    if (this.#given - this.#settled >= this.options.mostUnderWay) {
      this.skip(1, sender.of);
      sender.note(false);
      return;
    }
    this.#given += 1;
    const done = sender.callback(this.#onSent);
    try {
      socket.send(packet, port, address, done);
    } catch (error) {
      // A socket that has just been closed throws instead of calling back.
      done(asError(error), 0);
    }
  }

  /**
   * Whether the system has not yet taken all that was sent in the beats before. It takes datagrams at once
   * while its send buffer has room, and says so before the next beat.
   */
  get stuck(): boolean {
    return this.#settled < this.#givenBefore;
  }

  /** Not to be sent, as the socket is stuck: counts, and tells. */
  skip(datagrams: number, of: PacketOf): void {
    this.counters.skippedBusy += datagrams;
    this.#failures.failed(of, STUCK, datagrams);
  }

  /** All of this beat has been sent. */
  endBeat(): void {
    this.#givenBefore = this.#given;
  }

  /** Once a beat: looks after a lost interface, and reports failures. */
  tend(nowS: number): void {
    this.#nowS = nowS;
    this.#failures.report(nowS);
    this.#news.look(nowS);
    if (nowS >= this.#carrierDueS && this.#socket !== undefined) {
      this.#carrierDueS = nowS + CARRIER_LOOK_S;
      this.#lookAtCarrier();
    }
    if (nowS < this.#lookDueS || this.#closed || this.#opening !== undefined) return;
    this.#lookDueS = nowS + LOOK_S;
    if (this.#socket !== undefined) {
      const reason = this.#whyLost();
      if (reason !== undefined) this.#lose(reason);
      else if (this.#mayBeDead(nowS)) this.#drop();
      else return;
    }
    this.#opening = this.#reopen();
  }

  async close(): Promise<void> {
    this.#closed = true;
    await this.#opening;
    const sockets = [this.#socket, this.#broadcastSocket];
    this.#socket = undefined;
    this.#broadcastSocket = undefined;
    await Promise.all(
      sockets.map(socket => socket && new Promise<void>(resolve => socket.close(() => resolve()))),
    );
    this.#failures.end(this.#nowS);
  }

  /** The socket stays as it is: once the cable is back, its next packet arrives. */
  #lookAtCarrier(): void {
    const carrier = this.#readCarrier(this.#where?.name ?? '') ?? true;
    if (carrier === this.#carrier) return;
    this.#carrier = carrier;
    this.#news.carrier(carrier, this.#nowS);
  }

  #whyLost(): string | undefined {
    const where = this.#find(this.options.interface);
    if (where === undefined) {
      // Without a carrier the system soon no longer lists it as running.
      const name = this.#where?.name ?? '';
      if (this.#readCarrier(name) === false) return NO_CARRIER;
      return isDown(name) ? DOWN : 'the interface is gone';
    }
    return where.address === this.#where?.address ? undefined : 'its address has changed';
  }

  /**
   * Nothing can be sent, though the interface is there: a new socket may mend it. No receiver may be within reach
   * either, so that the interface is not called lost; what fails is told of by its output.
   */
  #mayBeDead(nowS: number): boolean {
    if (this.#failuresInRow < REOPEN_AFTER_FAILURES) return false;
    if (!INTERFACE_IS_DEAD.has(this.#lastCode) || nowS < this.#reopenDueS) return false;
    this.#reopenWaitS = Math.min(LONGEST_REOPEN_S, this.#reopenWaitS * 2);
    this.#reopenDueS = nowS + this.#reopenWaitS;
    return true;
  }

  async #reopen(): Promise<void> {
    const problem = await this.#tryOpen();
    this.#opening = undefined;
    // Closing waits for this.
    if (this.#closed) return;
    if (problem !== undefined || this.#where === undefined) {
      if (!this.#isLost) this.#lose(problem ?? 'the interface is gone');
      return;
    }
    this.counters.reopened += 1;
    if (!this.#isLost) return;
    this.#isLost = false;
    this.#news.back(this.#where.address, this.#nowS);
  }

  async #bind(where: LightingInterface, port: number): Promise<NodeJS.ErrnoException | undefined> {
    const bound = await listen(this.#make, where.address, port);
    if (bound instanceof Error) return bound;
    try {
      bound.setMulticastInterface(where.address);
      // What is meant for this machine stays on it, whatever its routes say.
      bound.setMulticastTTL(where.loopback ? 0 : MULTICAST_TTL);
      // A visualiser or a monitor on this machine hears the show too.
      bound.setMulticastLoopback(true);
      bound.setBroadcast(true);
    } catch (error) {
      dropSocket(bound);
      return asError(error);
    }
    bound.on('error', error => {
      if (this.#socket === bound) this.#lose(error.message);
    });
    bound.on('message', (bytes, { address }) => this.options.onMessage(bytes, address));
    this.#socket = bound;
    this.#where = where;
    this.#forget();
    this.#failuresInRow = 0;
    this.#onSent = (error, bytes, of) => {
      // What a dropped socket still has to say is not about the new one.
      if (this.#socket === bound) this.#sent(error, bytes, of);
    };
    return undefined;
  }

  /**
   * Older nodes answer a poll to the broadcast address, and on Linux a socket bound to one address
   * hears no broadcasts. Where a broadcast address can't be bound to (Windows), the other hears them.
   */
  async #hearBroadcasts(where: LightingInterface): Promise<void> {
    const bound = await listen(this.#make, where.broadcast, ARTNET_PORT);
    if (bound instanceof Error) return;
    bound.on('error', () => {
      if (this.#broadcastSocket === bound) this.#broadcastSocket = undefined;
      dropSocket(bound);
    });
    bound.on('message', (bytes, { address }) => this.options.onMessage(bytes, address));
    this.#broadcastSocket = bound;
  }

  /** What was under way in a socket that is gone will not be heard of. */
  #forget(): void {
    this.#given = 0;
    this.#settled = 0;
    this.#givenBefore = 0;
  }

  #lose(reason: string): void {
    this.#drop();
    this.#isLost = true;
    this.#news.lost(reason, this.#nowS);
  }

  #drop(): void {
    const sockets = [this.#socket, this.#broadcastSocket];
    this.#socket = undefined;
    this.#broadcastSocket = undefined;
    this.#forget();
    for (const socket of sockets) if (socket !== undefined) dropSocket(socket);
  }

  #sent(error: NodeJS.ErrnoException | null, bytes: number, of: PacketOf): void {
    this.#settled += 1;
    if (error === null) {
      this.#failures.sent(of);
      this.counters.packets += 1;
      this.counters.bytes += bytes;
      this.#failuresInRow = 0;
      this.#reopenWaitS = LOOK_S;
      return;
    }
    this.counters.sendErrors += 1;
    this.#failuresInRow += 1;
    this.#failures.failed(of, error.message, 1);
    this.#lastCode = error.code ?? '';
  }
}

/** A bound socket, or why there is none. */
async function listen(
  make: SocketFactory,
  address: string,
  port: number,
): Promise<Socket | NodeJS.ErrnoException> {
  let socket: Socket;
  try {
    socket = make();
  } catch (error) {
    return asError(error);
  }
  return new Promise(resolve => {
    socket.once('error', error => {
      dropSocket(socket);
      resolve(error);
    });
    socket.bind({ address, port, exclusive: true }, () => {
      socket.removeAllListeners('error');
      // Until the owner listens: an error that nobody hears would end the process.
      socket.on('error', () => undefined);
      resolve(socket);
    });
  });
}

function inWords(error: NodeJS.ErrnoException | undefined): string | undefined {
  return error?.code === 'EADDRNOTAVAIL' || error?.code === 'ENODEV'
    ? 'the interface is down, or its address is gone'
    : error?.message;
}

function asError(error: unknown): NodeJS.ErrnoException {
  return error instanceof Error ? error : new Error(String(error));
}
