import { createServer as createPlain, type Server } from 'node:http';
import { createServer as createSecure } from 'node:https';
import type { AddressInfo, Socket } from 'node:net';
import { getRequestListener } from '@hono/node-server';
import type { panelApp } from './app.js';
import { isLoopback } from './doors.js';

/** Beyond so many connections further ones wait in the kernel, and then nowhere. */
const MOST_CONNECTIONS = 256;
/** Of one address, so that one machine can't take them all. */
const MOST_OF_ONE = 64;
const HANDSHAKE_WITHIN_MS = 5000;
/** A request is a few hundred bytes, and comes at once. */
const MOST_HEADER_BYTES = 8192;
const HEADERS_WITHIN_MS = 5000;
const REQUEST_WITHIN_MS = 10_000;
const KEEP_ALIVE_MS = 10_000;
const MOST_HEADERS = 64;

export interface ListenOptions {
  readonly address: string;
  readonly port: number;
  /** A certificate and its key, PEM. */
  readonly certificate?: { readonly cert: Buffer; readonly key: Buffer } | undefined;
}

/** Listens; throws what the system says. @returns where, and how to end it */
export async function serve(
  app: ReturnType<typeof panelApp>,
  { address, port, certificate }: ListenOptions,
): Promise<{ readonly url: string; readonly server: Server }> {
  const listener = getRequestListener(app.fetch);
  const options = {
    maxHeaderSize: MOST_HEADER_BYTES,
    headersTimeout: HEADERS_WITHIN_MS,
    requestTimeout: REQUEST_WITHIN_MS,
    keepAliveTimeout: KEEP_ALIVE_MS,
    connectionsCheckingInterval: 1000,
  };
  const server: Server =
    certificate === undefined
      ? createPlain(options, listener)
      : createSecure(
          {
            ...options,
            handshakeTimeout: HANDSHAKE_WITHIN_MS,
            ...certificate,
          },
          listener,
        );
  server.maxConnections = MOST_CONNECTIONS;
  server.maxHeadersCount = MOST_HEADERS;
  const connections = new Connections();
  server.on('connection', (socket: Socket) => connections.take(socket));
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, address, resolve);
  });
  const at = server.address() as AddressInfo;
  const scheme = certificate === undefined ? 'http' : 'https';
  const host = at.family === 'IPv6' ? `[${at.address}]` : at.address;
  return { url: `${scheme}://${host}:${at.port}`, server };
}

/** Counts connections by address. From the machine itself there may be any number: a proxy there brings everybody's. */
export class Connections {
  readonly #counts = new Map<string, number>();

  /** Closes one that is too many. */
  take(socket: Pick<Socket, 'remoteAddress' | 'once' | 'destroy'>): void {
    const from = socket.remoteAddress ?? '';
    if (isLoopback(from)) return;
    const count = this.#counts.get(from) ?? 0;
    if (count >= MOST_OF_ONE) {
      socket.destroy();
      return;
    }
    this.#counts.set(from, count + 1);
    socket.once('close', () => {
      const left = (this.#counts.get(from) ?? 1) - 1;
      if (left === 0) this.#counts.delete(from);
      else this.#counts.set(from, left);
    });
  }
}
