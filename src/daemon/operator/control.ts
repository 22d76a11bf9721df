import { lstatSync, rmSync, type Stats } from 'node:fs';
import { createServer, type Server, type Socket } from 'node:net';
import { join } from 'node:path';
import { messageOf } from '../../stage/message-of.js';
import type { Answer } from '../asking/answers.js';
import { answers, CONTROL_SOCKET, STAYS_AT_MOST_MS } from '../asking/ask.js';
import { parseRequest, type Request } from '../asking/request-words.js';
import { makeFolder, PRIVATE } from '../files/make-folder.js';
import { OwnFolder } from '../files/own-folder.js';
import { plainAndRaw } from '../files/read-file.js';
import type { LiveFeed } from '../live/feed.js';
import { MOST_UNREAD_BYTES, type SocketLooker, socketLooker } from '../live/socket-looker.js';
import { monotonicS } from '../machine/clock.js';
import { type Descriptors, SpareDescriptors } from './spare-descriptors.js';

/** A request is a few words. */
const MOST_BYTES = 4096;
/**
 * Beyond this many connections the oldest that has asked nothing is closed: whoever asks is never refused.
 * Connections that come at once are accepted before the first of them is read, so there is room for a burst.
 */
const MOST_CONNECTIONS = 64;
/**
 * Starting an engine takes this many descriptors for a moment, and so does reading a show: with fewer left,
 * connections that have asked nothing for a while are closed, except a few.
 */
const FOR_PROCESSES = 20;
/** Three pairs of sockets and the pipe that tells of a failure (`uv_spawn`), and some to spare. */
const FOR_ENGINE = 10;
const MOST_WHILE_SCARCE = 8;
const ASKS_AT_ONCE_MS = 100;
/** Most orders of one viewer that may wait for their answers. */
const MOST_ORDERS = 16;
/** Most viewers: each costs the supervisor some time. */
const MOST_WATCHING = 16;
/** A viewer that has read nothing for this long makes room for a new one, ms. */
const IDLE_MS = 2000;
/** Most lines a second from one viewer: a page that holds several enables sends some thirty. */
const MOST_LINES = 200;
/** A program says what it wants at once. */
const ASKS_WITHIN_MS = 1000;
/** A client that has its whole answer hangs up; one that doesn't within this time is cut off. */
const HANGS_UP_WITHIN_MS = 1000;
/** How soon a socket that somebody has deleted, or that could not be made, is made anew. */
const LOOKS_EVERY_MS = 1000;
/** How often to check that a descriptor is free for the next connection: without one the event loop spins. */
const LOOKS_FOR_DESCRIPTORS_MS = 200;
/** To listen takes one, and so does whoever connects; one more, so that it is not given up again at once. */
const LISTENS_FROM_FREE = 3;
const NONE_FREE =
  'the daemon has no file descriptor free (EMFILE: too many files are open); it listens again once some are';

/** Why a connection was closed, for people. */
const DROPS = {
  mute: 'asked nothing within 1 s',
  long: 'asked in more than 4 KiB',
  crowded: 'made room for others',
  unread: 'did not read',
  many: `asked more than ${MOST_ORDERS} things at once, or ${MOST_LINES} in a second`,
  full: `wanted to watch while ${MOST_WATCHING} did`,
} as const;
type Drop = keyof typeof DROPS;

type FileIdentity = Pick<Stats, 'dev' | 'ino'>;

interface Connection {
  readonly socket: Socket;
  asked: boolean;
  /** It has its answer, and nothing more is said to it. */
  answered: boolean;
  readonly sinceMs: number;
  /** It is given the snapshot stream. */
  looker: SocketLooker | undefined;
  /** Without an answer yet. */
  orders: number;
  /** Lines in the second that began then. */
  lines: number;
  linesSinceMs: number;
  timer: NodeJS.Timeout;
}

/**
 * Listens for requests on a Unix socket in the state folder: who may write there may ask. One request
 * a connection, on one line of JSON: a list of words, or an object with `words`, the `user` who
 * says them, an `id` that a request asked for again has too, `untilS`, after which it is not done any more, and of an enable
 * the `hand` that holds it, where one user has several; one answer, a JSON object on one line.
 * A viewer may go on asking: for another rate by `watch` again, and for anything else, with the `id` in the answer.
 */
export class ControlServer {
  #server: Server | undefined;
  /** Which file is the socket of `#server`. */
  #ours: FileIdentity | undefined;
  #fault: string | undefined;
  readonly #connections = new Set<Connection>();
  readonly #spare: SpareDescriptors;
  /** Recent answers, by the id of their request: a repeated request is not carried out again. */
  readonly #given = new Map<string, Promise<Answer>>();
  #watch: NodeJS.Timeout | undefined;
  #descriptorWatch: NodeJS.Timeout | undefined;
  #opening = false;
  readonly #folder: OwnFolder;
  readonly #drops = new Map<Drop, number>();
  /** Whom those watch who ask for it. */
  feed: Pick<LiveFeed, 'add' | 'remove' | 'turn'> | undefined;

  constructor(
    private readonly folder: string,
    /** @param untilS it is not done later, monotonic; undefined: it may be */
    private readonly handle: (request: Request, untilS: number | undefined) => Promise<Answer>,
    /** Why it can't be asked; undefined: it can be again. Told when that changes. */
    private readonly onFault: (fault: string | undefined) => void,
    descriptors?: Descriptors,
  ) {
    this.#folder = new OwnFolder(folder);
    this.#spare = new SpareDescriptors(descriptors);
  }

  /** Listens from now on, or as soon as it can. */
  async open(): Promise<void> {
    await this.#tryToListen();
    this.#watch ??= setInterval(() => this.#look(), LOOKS_EVERY_MS).unref();
    this.#descriptorWatch ??= setInterval(
      () => this.#lookForDescriptors(),
      LOOKS_FOR_DESCRIPTORS_MS,
    ).unref();
  }

  close(): void {
    clearInterval(this.#watch);
    clearInterval(this.#descriptorWatch);
    this.#spare.close();
    this.#letGo();
    for (const { socket } of this.#connections) socket.destroy();
  }

  /** Connections that were closed since it was asked last, by reason, in words; undefined: none. */
  takeDrops(): string | undefined {
    const parts = [...this.#drops].map(([why, count]) => `${count} that ${DROPS[why]}`);
    this.#drops.clear();
    return parts.length === 0 ? undefined : `connections closed: ${parts.join('; ')}`;
  }

  /**
   * A process is about to be started. If few descriptors are free, idle connections are closed to make room; for an
   * engine also viewers, if need be, the newest first: a page connects again, and light comes first.
   */
  makeRoom(process: 'engine' | 'reader'): void {
    if (this.#connections.size === 0 || this.#spare.areFree(FOR_PROCESSES)) return;
    for (const one of [...this.#connections]) {
      if (isIdle(one)) this.#makesRoom(one);
    }
    if (process !== 'engine') return;
    const watching = [...this.#connections].filter(one => one.looker !== undefined);
    while (!this.#spare.areFree(FOR_ENGINE)) {
      const newest = watching.pop();
      if (newest === undefined) return;
      this.#makesRoom(newest);
    }
  }

  /** Who has the answer loses nothing, so that is no drop. */
  #makesRoom(one: Connection): void {
    this.#connections.delete(one);
    if (one.answered) one.socket.destroy();
    else this.#drop(one, 'crowded');
  }

  #drop({ socket }: Pick<Connection, 'socket'>, why: Drop): void {
    if (!socket.destroyed) this.#drops.set(why, (this.#drops.get(why) ?? 0) + 1);
    socket.destroy();
  }

  async #tryToListen(): Promise<void> {
    this.#opening = true;
    const fault = this.#spare.areFree(LISTENS_FROM_FREE) ? await this.#listen() : NONE_FREE;
    this.#opening = false;
    this.#tell(fault);
  }

  #tell(fault: string | undefined): void {
    if (fault === this.#fault) return;
    this.#fault = fault;
    this.onFault(fault);
  }

  async #listen(): Promise<string | undefined> {
    try {
      if (!this.#folder.wasThere) await makeFolder(this.folder, PRIVATE);
      const gone = await this.#folder.fault();
      if (gone !== undefined) return `${this.folder}: ${gone}`;
      const inTheWay = this.#inTheWay();
      if (inTheWay !== undefined) return inTheWay;
      const asked = await answers(this.folder);
      if (asked === 'alive') return 'another daemon answers in this folder';
      if (asked !== 'nobody') return asked.message;
      // Of a daemon that was killed.
      rmSync(this.#path, { force: true });
    } catch (error) {
      return plainAndRaw(error, 'written');
    }
    const server = createServer(socket => this.#serve(socket));
    return new Promise(resolve => {
      server.once('error', error => resolve(error.message));
      server.listen({ path: this.#path, readableAll: false, writableAll: false }, () => {
        server.removeAllListeners('error');
        server.on('error', () => undefined);
        this.#server = server;
        this.#ours = this.#found();
        resolve(undefined);
      });
    });
  }

  /** Somebody else's file is reported, not removed. */
  #inTheWay(): string | undefined {
    const found = this.#found();
    if (found === undefined || found.isSocket()) return undefined;
    const what = found.isDirectory() ? 'a folder' : found.isFile() ? 'a file' : 'no socket';
    return `${this.#path} is ${what}, and in the way of the socket: move it elsewhere`;
  }

  /** Throws where the system can't tell. */
  #found(): Stats | undefined {
    return lstatSync(this.#path, { throwIfNoEntry: false });
  }

  #isOurs(): boolean {
    const found = this.#found();
    const ours = this.#ours;
    return found !== undefined && found.ino === ours?.ino && found.dev === ours.dev;
  }

  /** Closing a server deletes whatever is at its path, even if it belongs to somebody else by now. */
  #letGo(): void {
    const gone = this.#server;
    const mayDelete = this.#mayDelete();
    this.#server = undefined;
    this.#ours = undefined;
    if (gone === undefined) return;
    if (!mayDelete) gone.unref();
    else if (gone.listening) gone.close();
  }

  #mayDelete(): boolean {
    try {
      return this.#found() === undefined || this.#isOurs();
    } catch {
      return false;
    }
  }

  get #path(): string {
    return join(this.folder, CONTROL_SOCKET);
  }

  /** While none is free nobody listens; those who have come are answered. */
  #lookForDescriptors(): void {
    if (this.#server === undefined || this.#opening) return;
    if (this.#spare.leavesOneFree()) return;
    this.#letGo();
    this.#tell(NONE_FREE);
  }

  /** A folder that was emptied, or has come back, gets its socket again; so does one that could have none. */
  #look(): void {
    if (this.#opening) return;
    try {
      if (this.#server !== undefined && this.#isOurs()) return;
    } catch {
      // What can't be looked at will say why when it is listened to.
    }
    // Before there is a new one: to close the old one later would delete that.
    this.#letGo();
    void this.#tryToListen();
  }

  #serve(socket: Socket): void {
    if (this.#connections.size >= MOST_CONNECTIONS) this.#evict(IN_TURN);
    let text = '';
    const connection: Connection = {
      socket,
      asked: false,
      answered: false,
      sinceMs: performance.now(),
      looker: undefined,
      orders: 0,
      ...{ lines: 0, linesSinceMs: 0 },
      timer: setTimeout(() => this.#drop({ socket }, 'mute'), ASKS_WITHIN_MS),
    };
    this.#connections.add(connection);
    const isCrowded = this.#connections.size > MOST_WHILE_SCARCE;
    if (isCrowded && !this.#spare.areFree(FOR_PROCESSES)) this.#evict(IDLE, connection);
    // The next one needs a descriptor too.
    if (!this.#spare.leavesOneFree()) this.#evict(IN_TURN, connection);
    socket.on('close', () => {
      clearTimeout(connection.timer);
      this.#connections.delete(connection);
    });
    socket.on('error', () => undefined);
    socket.setEncoding('utf8');
    socket.on('data', (piece: string) => {
      text += piece;
      for (;;) {
        if (socket.destroyed) return;
        if (connection.asked && connection.looker === undefined) return;
        const end = text.indexOf('\n');
        if (end < 0) break;
        this.#hear(connection, text.slice(0, end));
        text = text.slice(end + 1);
      }
      if (text.length > MOST_BYTES) this.#drop(connection, 'long');
    });
  }

  #hear(connection: Connection, line: string): void {
    const { socket, looker } = connection;
    if (looker !== undefined) {
      this.#hearLooker(connection, looker, line);
      return;
    }
    connection.asked = true;
    clearTimeout(connection.timer);
    if (this.#watches(connection, line)) return;
    connection.timer = setTimeout(() => socket.destroy(), STAYS_AT_MOST_MS);
    void this.#answer(line).then(answer => {
      socket.end(`${JSON.stringify(answer)}\n`, () => {
        if (socket.destroyed) return;
        connection.answered = true;
        clearTimeout(connection.timer);
        connection.timer = setTimeout(() => socket.destroy(), HANGS_UP_WITHIN_MS);
      });
    });
  }

  /** It keeps its connection where the state folder, and the socket in it, are gone. */
  #hearLooker(connection: Connection, looker: SocketLooker, line: string): void {
    if (!this.#mayAsk(connection)) return;
    const request = readRequest(line);
    if (typeof request !== 'string' && request.kind === 'watch') {
      if (request.rateHz !== looker.rateHz) this.feed?.turn(looker, request.rateHz);
      return;
    }
    connection.orders += 1;
    void this.#answer(line).then(answer => {
      connection.orders -= 1;
      if (connection.socket.destroyed) return;
      connection.socket.write(`${JSON.stringify({ id: requestId(line), ...answer })}\n`);
    });
  }

  /** Before anything is made of what it says. */
  #mayAsk(connection: Connection): boolean {
    const nowMs = performance.now();
    if (nowMs - connection.linesSinceMs > 1000) {
      connection.linesSinceMs = nowMs;
      connection.lines = 0;
    }
    connection.lines += 1;
    const isMuch = connection.orders >= MOST_ORDERS || connection.lines > MOST_LINES;
    // Its answers are not read either.
    const isUnread = connection.socket.writableLength > MOST_UNREAD_BYTES;
    if (isMuch || isUnread) this.#drop(connection, isMuch ? 'many' : 'unread');
    return !isMuch && !isUnread;
  }

  /** One that wants the snapshot stream gets it. @returns whether it is one */
  #watches(connection: Connection, line: string): boolean {
    const request = readRequest(line);
    if (typeof request === 'string' || request.kind !== 'watch') return false;
    const { feed } = this;
    const { socket } = connection;
    if (feed === undefined) return false;
    if (!this.#makesRoomToWatch()) {
      this.#drops.set('full', (this.#drops.get('full') ?? 0) + 1);
      return false;
    }
    const looker = socketLooker(socket, request.rateHz, () => this.#drop(connection, 'unread'));
    connection.looker = looker;
    socket.on('close', () => feed.remove(looker));
    feed.add(looker);
    return true;
  }

  /** Viewers that read keep their place; the one that has read nothing for longest loses it. */
  #makesRoomToWatch(): boolean {
    const all = [...this.#connections].filter(one => one.looker !== undefined);
    if (all.length < MOST_WATCHING) return true;
    const idle = (one: Connection) => one.looker?.idleMs ?? 0;
    const most = all.reduce((a, b) => (idle(b) > idle(a) ? b : a));
    if (idle(most) < IDLE_MS) return false;
    this.#connections.delete(most);
    this.#drop(most, 'unread');
    return true;
  }

  /** The oldest of the first kind of which there is one. @param newest who has come just now, and stays */
  #evict(kinds: readonly ((one: Connection) => boolean)[], newest?: Connection): void {
    const all = [...this.#connections].filter(one => one !== newest);
    const [oldest] = kinds.flatMap(isOf => all.find(isOf) ?? []);
    if (oldest !== undefined) this.#makesRoom(oldest);
  }

  #answer(line: string): Promise<Answer> {
    const id = requestId(line);
    if (id === undefined) return this.#carryOut(line);
    const given = this.#given.get(id) ?? this.#carryOut(line);
    this.#given.set(id, given);
    if (this.#given.size > MOST_GIVEN) this.#given.delete(this.#given.keys().next().value ?? '');
    return given;
  }

  async #carryOut(line: string): Promise<Answer> {
    const request = readRequest(line);
    if (typeof request === 'string') return { outcome: 'refused', ok: false, text: request };
    const untilS = untilSOf(line);
    if ((untilS ?? Number.POSITIVE_INFINITY) < monotonicS()) {
      return { outcome: 'refused', ok: false, text: LATE };
    }
    try {
      return await this.handle(request, untilS);
    } catch (error) {
      return { outcome: 'failed', ok: false, text: `it failed: ${messageOf(error)}` };
    }
  }
}

const hasAnswer = ({ answered }: Connection) => answered;
/** Whoever has the answer, or only waits, and not just because it came a moment ago. */
const isIdle = ({ answered, asked, sinceMs }: Connection) =>
  answered || (!asked && performance.now() - sinceMs > ASKS_AT_ONCE_MS);
const IDLE = [hasAnswer, isIdle];
/** Whoever only waits; where all have asked, what they asked for is under way; who watches goes last. */
const IN_TURN = [
  hasAnswer,
  ({ asked }: Connection) => !asked,
  ({ looker }: Connection) => looker === undefined,
  () => true,
];
/** So many answers are kept for those who ask again. */
const MOST_GIVEN = 64;

function requestId(line: string): string | undefined {
  try {
    const { id } = Object(JSON.parse(line)) as { id?: unknown };
    return typeof id === 'string' && id.length <= 64 ? id : undefined;
  } catch {
    return undefined;
  }
}

const LATE = 'This came too late, so nothing was done. Ask again.';

/** When it is too late to do it, by the monotonic clock, which is one for the whole machine. */
function untilSOf(line: string): number | undefined {
  const { untilS } = Object(JSON.parse(line)) as { untilS?: unknown };
  return typeof untilS === 'number' ? untilS : undefined;
}

const HAND = /^[\w-]{1,64}$/;

/** A request, or what would be right. */
function readRequest(line: string): Request | string {
  const wrong = 'a request is a JSON list of words.';
  let value: unknown;
  try {
    value = JSON.parse(line);
  } catch {
    return wrong;
  }
  const { words, user, hand } = Array.isArray(value)
    ? { words: value as unknown, user: undefined, hand: undefined }
    : (Object(value) as { words?: unknown; user?: unknown; hand?: unknown });
  if (!Array.isArray(words) || !words.every(word => typeof word === 'string')) return wrong;
  const who = typeof user === 'string' && /^[\w.@: -]{1,64}$/.test(user) ? ` (user ${user})` : '';
  const whose = typeof hand === 'string' && HAND.test(hand) ? hand : undefined;
  return parseRequest(words, `control socket${who}`, whose);
}
