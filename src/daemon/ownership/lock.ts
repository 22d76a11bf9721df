import { connect, createServer, type Server } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { printable } from '../../stage/printable.js';
import { abstractSocketOwner } from '../machine/process-of.js';

/** Who has something, as it says itself or as the system tells. */
export interface Holder {
  /** undefined: it does not answer, and is another user's. */
  readonly pid: number | undefined;
  /** What it runs: a show by its name, or the name of its program. */
  readonly what: string | undefined;
}

export type LockResult =
  | { readonly ok: true; readonly lock: Lock }
  | { readonly ok: false; readonly holder: Holder }
  /** The system gives no socket: nobody knows whether another process has the name. */
  | { readonly ok: false; readonly holder: undefined; readonly fault: string };

/** One that holds answers at once. */
const ANSWERS_WITHIN_MS = 500;
/**
 * A process that was just killed keeps its sockets until the system has taken its memory back; one that still doesn't
 * answer after that is suspended.
 */
const DYING_FOR_MS = 1500;
const TRY_AGAIN_MS = 25;
const MOST_BYTES = 1024;
/** Any user may ask, and as often as they like: they must not take all descriptors of a process that has lights. */
const MOST_ASKING = 8;
/** All that there is (unix(7)): some versions of Node fill a shorter name up with zeros, which makes it another. */
const NAME_BYTES = 107;

/**
 * A name that one process of this machine has at a time: an abstract Unix socket (unix(7)). It leaves no
 * file behind, any user may ask for it, and the kernel lets it go with the process, however that ends. Names
 * are of a network namespace, like the interfaces that they stand for.
 */
export class Lock {
  private constructor(private readonly server: Server) {}

  /**
   * @param wanted printable ASCII
   * @param what is told to others who ask for it
   */
  static async take(wanted: string, what: () => string): Promise<LockResult> {
    const name = wanted.slice(0, NAME_BYTES).padEnd(NAME_BYTES, '/');
    const untilMs = performance.now() + DYING_FOR_MS;
    for (;;) {
      const got = await listen(name, what);
      if (got.ok) return { ok: true, lock: new Lock(got.server) };
      const { error } = got;
      if (error.code !== 'EADDRINUSE')
        return { ok: false, holder: undefined, fault: error.message };
      const says = await askHolder(name);
      if (says !== undefined || performance.now() > untilMs) {
        return { ok: false, holder: asTheSystemTells(name, says) };
      }
      await sleep(TRY_AGAIN_MS);
    }
  }

  release(): void {
    this.server.close();
  }
}

/** What a holder says of itself may be wrong; what the system says is right, if this user may see it. */
function asTheSystemTells(name: string, says: Holder | undefined): Holder {
  const owner = abstractSocketOwner(name);
  if (owner === undefined) return says ?? { pid: undefined, what: undefined };
  return owner.pid === says?.pid ? says : { pid: owner.pid, what: owner.program };
}

type Listening =
  | { readonly ok: true; readonly server: Server }
  | { readonly ok: false; readonly error: NodeJS.ErrnoException };

function listen(name: string, what: () => string): Promise<Listening> {
  const server = createServer(socket => {
    socket.on('error', () => undefined);
    socket.setTimeout(ANSWERS_WITHIN_MS, () => socket.destroy());
    socket.end(`${JSON.stringify({ pid: process.pid, what: what() })}\n`);
  });
  server.maxConnections = MOST_ASKING;
  // It holds a name, and nothing up.
  server.unref();
  return new Promise(resolve => {
    server.once('error', error => resolve({ ok: false, error }));
    server.listen(`\0${name}`, () => {
      server.removeAllListeners('error');
      server.on('error', () => undefined);
      resolve({ ok: true, server });
    });
  });
}

/** undefined: nobody answers. */
function askHolder(name: string): Promise<Holder | undefined> {
  return new Promise(resolve => {
    const socket = connect(`\0${name}`);
    let text = '';
    const give = (holder: Holder | undefined) => {
      clearTimeout(timer);
      socket.destroy();
      resolve(holder);
    };
    socket.setEncoding('utf8');
    // In all, not between two bytes: one that says them slowly must not hold up a start.
    const timer = setTimeout(() => give(undefined), ANSWERS_WITHIN_MS);
    socket.on('error', () => give(undefined));
    socket.on('data', (piece: string) => {
      text += piece;
      if (text.length > MOST_BYTES) give(undefined);
    });
    socket.on('end', () => give(holderFrom(text)));
  });
}

function holderFrom(text: string): Holder | undefined {
  try {
    const { pid, what } = Object(JSON.parse(text)) as Record<string, unknown>;
    if (typeof pid !== 'number') return undefined;
    // It is printed, and anybody may have said it.
    return { pid, what: typeof what === 'string' ? printable(what) : undefined };
  } catch {
    return undefined;
  }
}
