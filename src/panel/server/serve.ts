import {
  createServer as createPlain,
  type IncomingMessage,
  type Server,
  type ServerResponse,
} from 'node:http';
import { createServer as createSecure } from 'node:https';
import type { AddressInfo, Socket } from 'node:net';
import { getRequestListener } from '@hono/node-server';
import type { Refusal } from '../../live/turned-away.js';
import { MOST_BODY_BYTES } from './act-schema.js';
import type { panelApp } from './app.js';
import { isLoopback } from './doors.js';
import { type Room, roomFor } from './room.js';
import { Turns } from './turns.js';
import { unacknowledged } from './unacknowledged.js';

/** Of one address, so that one machine can't take them all. */
const MOST_OF_ONE = 64;
/** Requests that one connection may send before their answers: no browser sends any, a proxy hardly. */
const MOST_AHEAD = 4;
const HANDSHAKE_WITHIN_MS = 5000;
/** A request is a few hundred bytes, and comes at once. */
const MOST_HEADER_BYTES = 8192;
const HEADERS_WITHIN_MS = 5000;
const REQUEST_WITHIN_MS = 10_000;
const KEEP_ALIVE_MS = 10_000;
/** One from which nothing is heard for so long, though it was sent something more than once, has left without a word, seconds. */
const SILENT_S = 10;
const LOOKS_EVERY_MS = 1000;

interface Fault {
  readonly status: string;
  readonly reason: Refusal;
  readonly text: string;
}

/** By Node's code for what is wrong with a request. */
const FAULTS: ReadonlyMap<string, Fault> = new Map<string, Fault>([
  [
    'ERR_HTTP_REQUEST_TIMEOUT',
    {
      status: '408 Request Timeout',
      reason: 'too slow',
      text: `the request did not come within ${REQUEST_WITHIN_MS / 1e3} s, its headers within ${HEADERS_WITHIN_MS / 1e3} s`,
    },
  ],
  [
    'HPE_HEADER_OVERFLOW',
    {
      status: '431 Request Header Fields Too Large',
      reason: 'headers too large',
      text: `the headers are too long: at most ${MOST_HEADER_BYTES} bytes`,
    },
  ],
  [
    'HPE_CHUNK_EXTENSIONS_OVERFLOW',
    {
      status: '413 Payload Too Large',
      reason: 'too large',
      text: 'the chunks of the body have extensions that are too long: send it without any',
    },
  ],
]);
const MALFORMED: Fault = {
  status: '400 Bad Request',
  reason: 'malformed',
  text: 'this is not an HTTP request: is it meant for another port, or for https?',
};
const EXPECTS =
  "the header Expect asks for something else than 100-continue, which can't be met: leave it out";

const TOO_LARGE: Fault = {
  status: '413 Payload Too Large',
  reason: 'too large',
  text: `at most ${MOST_BODY_BYTES} bytes`,
};
/** A chunk may be a single byte, and thousands of them in a packet would keep a Stop waiting while they are read. */
const IN_CHUNKS: Fault = {
  status: '411 Length Required',
  reason: 'malformed',
  text: 'send the body in one piece, with its Content-Length, and not in chunks',
};
/** For whoever still sends to read the answer first. */
const CLOSES_AFTER_MS = 300;

/** What is wrong with a body before any of it is read; undefined: nothing. */
function bodyFault({ headers }: IncomingMessage): Fault | undefined {
  if (headers['transfer-encoding'] !== undefined) return IN_CHUNKS;
  return Number(headers['content-length'] ?? 0) > MOST_BODY_BYTES ? TOO_LARGE : undefined;
}

/** As the app answers, of a request that never comes to it. */
function rawAnswer({ status, text }: Pick<Fault, 'status' | 'text'>): string {
  const body = JSON.stringify({ ok: false, text });
  return `HTTP/1.1 ${status}\r\nContent-Type: application/json\r\nContent-Length: ${Buffer.byteLength(body)}\r\nConnection: close\r\n\r\n${body}`;
}

export interface ListenOptions {
  readonly address: string;
  readonly port: number;
  /** A certificate and its key, PEM. */
  readonly certificate?: Pem | undefined;
}

interface Pem {
  readonly cert: Buffer;
  readonly key: Buffer;
}

export interface Serving {
  readonly url: string;
  readonly server: Server;
  /** Whoever connects from now on is shown another certificate; who is connected stays so. Nothing without TLS. */
  readonly renew: (certificate: Pem) => void;
}

/** Listens; throws what the system says. @param refused told of what never comes to the app */
export async function serve(
  app: ReturnType<typeof panelApp>,
  { address, port, certificate }: ListenOptions,
  refused: (reason: Refusal, from?: string) => void,
  room: Room = roomFor(undefined),
): Promise<Serving> {
  const connections = new Connections(refused, room.connections);
  const answer = getRequestListener(app.fetch);
  const turns = new Turns();
  const listener = (request: IncomingMessage, response: ServerResponse) => {
    if (!connections.asks(request.socket, response)) return;
    const fault = bodyFault(request);
    if (fault !== undefined) {
      const { socket } = request;
      refused(fault.reason, socket.remoteAddress);
      socket.write(rawAnswer(fault));
      // What it goes on to send is not read: of chunks there may be thousands in what is here already.
      if (fault === IN_CHUNKS) socket.destroySoon();
      else setTimeout(() => socket.destroy(), CLOSES_AFTER_MS);
      return;
    }
    if (request.method === 'POST') {
      void answer(request, response);
      return;
    }
    turns.put(() => {
      if (!request.socket.destroyed) void answer(request, response);
    });
  };
  const options = {
    maxHeaderSize: MOST_HEADER_BYTES,
    headersTimeout: HEADERS_WITHIN_MS,
    requestTimeout: REQUEST_WITHIN_MS,
    keepAliveTimeout: KEEP_ALIVE_MS,
    connectionsCheckingInterval: 1000,
  };
  const secure =
    certificate === undefined
      ? undefined
      : createSecure(
          {
            ...options,
            handshakeTimeout: HANDSHAKE_WITHIN_MS,
            ...certificate,
          },
          listener,
        );
  const server: Server = secure ?? createPlain(options, listener);
  // Node leaves out what is beyond its count and says nothing, and a proxy's own headers come last. Their bytes are bounded.
  server.maxHeadersCount = 0;
  server.on('clientError', (error: NodeJS.ErrnoException, socket: Socket) => {
    const fault = FAULTS.get(error.code ?? '') ?? MALFORMED;
    const isRequest = FAULTS.has(error.code ?? '') || error.code?.startsWith('HPE_') === true;
    if (isRequest) refused(fault.reason, socket.remoteAddress);
    if (!isRequest || !socket.writable) socket.destroy();
    else socket.end(rawAnswer(fault), () => socket.destroy());
  });
  server.on('checkExpectation', ({ socket }: IncomingMessage) => {
    refused('malformed', socket.remoteAddress);
    socket.end(rawAnswer({ status: '417 Expectation Failed', text: EXPECTS }), () =>
      socket.destroy(),
    );
  });
  server.on('connection', (socket: Socket) => connections.take(socket));
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, address, resolve);
  });
  const at = server.address() as AddressInfo;
  const looks = setInterval(() => {
    if (connections.count > 0) connections.hear(unacknowledged(at.port), performance.now() / 1e3);
  }, LOOKS_EVERY_MS);
  looks.unref();
  server.once('close', () => clearInterval(looks));
  const scheme = certificate === undefined ? 'http' : 'https';
  const host = at.family === 'IPv6' ? `[${at.address}]` : at.address;
  const renew = (pem: Pem) => secure?.setSecureContext(pem);
  return { url: `${scheme}://${host}:${at.port}`, server, renew };
}

type End = Pick<Socket, 'remoteAddress' | 'remotePort'>;
type Wire = End & Pick<Socket, 'once' | 'destroy'>;

interface Connection {
  readonly socket: Wire;
  readonly from: string;
  /** Requests without their whole answer. */
  asked: number;
  /** Since when its other end acknowledges nothing, monotonic seconds. */
  silentS: number | undefined;
}

/** Counts connections by address. From the machine itself there may be any number: a proxy there brings everybody's. */
export class Connections {
  readonly #counts = new Map<string, number>();
  /** By the other end's address and port, which are those of a TLS connection and of what is below it; the oldest first. */
  readonly #open = new Map<string, Connection>();

  /** @param most beyond so many the oldest that asks for nothing just then is closed: whoever comes gets in */
  constructor(
    private readonly refused: (reason: Refusal, from?: string) => void = () => undefined,
    private readonly most = roomFor(undefined).connections,
  ) {}

  /** Closes one that is too many. */
  take(socket: Wire): void {
    const from = socket.remoteAddress ?? '';
    const count = this.#counts.get(from) ?? 0;
    if (!isLoopback(from) && count >= MOST_OF_ONE) {
      this.refused('too many connections', from);
      socket.destroy();
      return;
    }
    if (this.#open.size >= this.most) this.#evict();
    const end = endOf(socket);
    this.#open.set(end, { socket, from, asked: 0, silentS: undefined });
    this.#counts.set(from, count + 1);
    socket.once('close', () => this.#forget(end, socket));
  }

  get count(): number {
    return this.#open.size;
  }

  /** Closes those that have left without a word: no end of a connection comes from a machine that lost its network. @param silent other ends that acknowledge nothing just now */
  hear(silent: readonly string[], nowS: number): void {
    for (const [end, connection] of [...this.#open]) {
      if (!silent.includes(end)) connection.silentS = undefined;
      else connection.silentS ??= nowS;
      if (nowS - (connection.silentS ?? nowS) < SILENT_S) continue;
      this.refused('gone', connection.from);
      this.#forget(end, connection.socket);
      connection.socket.destroy();
    }
  }

  /** A request has come. @returns whether it is to be answered; who sends ahead is cut off, as all others would wait for that */
  asks(socket: End, response: Pick<ServerResponse, 'once'>): boolean {
    const connection = this.#open.get(endOf(socket));
    if (connection === undefined) return false;
    if (connection.asked >= MOST_AHEAD) {
      this.refused('sent ahead', connection.from);
      this.#forget(endOf(socket), connection.socket);
      connection.socket.destroy();
      return false;
    }
    connection.asked += 1;
    response.once('close', () => {
      connection.asked -= 1;
    });
    return true;
  }

  /** The oldest that asks for nothing; where all do, the oldest. */
  #evict(): void {
    const all = [...this.#open];
    const [end, { socket, from } = {}] = all.find(([, { asked }]) => asked === 0) ?? all[0] ?? [];
    if (end === undefined || socket === undefined) return;
    this.refused('too many connections', from);
    this.#forget(end, socket);
    socket.destroy();
  }

  #forget(end: string, socket: Wire): void {
    const connection = this.#open.get(end);
    if (connection?.socket !== socket) return;
    this.#open.delete(end);
    const left = (this.#counts.get(connection.from) ?? 1) - 1;
    if (left === 0) this.#counts.delete(connection.from);
    else this.#counts.set(connection.from, left);
  }
}

function endOf({ remoteAddress, remotePort }: End): string {
  return `${remoteAddress} ${remotePort}`;
}
