import { rmSync } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import { connect, createServer, type Server, type Socket } from 'node:net';
import { join } from 'node:path';
import type { OperatorAction } from '../../engine/operator.js';
import { messageOf } from '../../stage/message-of.js';

/** What a person at the machine may ask of a running daemon. */
export type Request =
  | { readonly kind: 'operate'; readonly action: OperatorAction }
  | { readonly kind: 'reload' }
  | { readonly kind: 'status' };

export interface Answer {
  readonly ok: boolean;
  readonly text: string;
}

const SOCKET = 'control.sock';
/** A request is a few words. */
const MOST_BYTES = 4096;
const MOST_CONNECTIONS = 8;
const PATIENCE_MS = 5000;

/** The words of a request, as typed; or what would be right. */
export function parseRequest(words: readonly string[]): Request | string {
  const [verb, tracker, performer, ...rest] = words;
  const cause = 'command';
  if (verb === 'assign' && tracker !== undefined && performer !== undefined && rest.length === 0) {
    return { kind: 'operate', action: { kind: 'assign', tracker, performer, cause } };
  }
  if (verb === 'unassign' && tracker !== undefined && performer === undefined) {
    return { kind: 'operate', action: { kind: 'unassign', tracker, cause } };
  }
  if ((verb === 'stop' || verb === 'resume') && tracker !== undefined && performer === undefined) {
    const whom = tracker === 'everybody' ? undefined : tracker;
    return { kind: 'operate', action: { kind: verb, performer: whom, cause } };
  }
  if ((verb === 'reload' || verb === 'status') && tracker === undefined) return { kind: verb };
  return 'it takes: assign TRACKER PERFORMER, unassign TRACKER, stop PERFORMER, resume PERFORMER (or everybody), reload, or status.';
}

/**
 * Listens for requests on a Unix socket in the state folder: who may write there may ask. One request
 * a connection, a JSON list of words on one line; one answer, a JSON object on one line.
 */
export class ControlServer {
  readonly #server: Server;

  constructor(
    private readonly folder: string,
    private readonly handle: (request: Request) => Promise<Answer>,
  ) {
    this.#server = createServer(socket => this.#serve(socket));
    this.#server.maxConnections = MOST_CONNECTIONS;
  }

  /** @returns why it can't listen, or undefined */
  async open(): Promise<string | undefined> {
    try {
      await mkdir(this.folder, { recursive: true, mode: 0o700 });
    } catch (error) {
      return messageOf(error);
    }
    const path = join(this.folder, SOCKET);
    if (await answers(this.folder)) return 'another daemon answers in this folder';
    // Of a daemon that was killed.
    rmSync(path, { force: true });
    return new Promise(resolve => {
      this.#server.once('error', error => resolve(error.message));
      this.#server.listen({ path, readableAll: false, writableAll: false }, () => {
        this.#server.removeAllListeners('error');
        this.#server.on('error', () => undefined);
        resolve(undefined);
      });
    });
  }

  close(): void {
    this.#server.close();
  }

  #serve(socket: Socket): void {
    let text = '';
    let asked = false;
    socket.setTimeout(PATIENCE_MS, () => socket.destroy());
    socket.on('error', () => undefined);
    socket.setEncoding('utf8');
    socket.on('data', (piece: string) => {
      text += piece;
      const end = text.indexOf('\n');
      if (asked) return;
      if (end < 0) {
        if (text.length > MOST_BYTES) socket.destroy();
        return;
      }
      asked = true;
      void this.#answer(text.slice(0, end)).then(answer => {
        socket.end(`${JSON.stringify(answer)}\n`);
      });
    });
  }

  async #answer(line: string): Promise<Answer> {
    let words: unknown;
    try {
      words = JSON.parse(line);
    } catch {
      return { ok: false, text: 'a request is a JSON list of words.' };
    }
    if (!Array.isArray(words) || !words.every(word => typeof word === 'string')) {
      return { ok: false, text: 'a request is a JSON list of words.' };
    }
    const request = parseRequest(words);
    return typeof request === 'string' ? { ok: false, text: request } : this.handle(request);
  }
}

/** Whether a daemon lives whose state folder this is: one that stands still counts too. */
export function answers(folder: string): Promise<boolean> {
  return new Promise(resolve => {
    const socket = connect(join(folder, SOCKET));
    const give = (lives: boolean) => {
      socket.destroy();
      resolve(lives);
    };
    socket.on('connect', () => give(true));
    socket.on('error', (error: NodeJS.ErrnoException) => {
      // Another user's, or one whose queue is full.
      give(error.code === 'EACCES' || error.code === 'EAGAIN');
    });
  });
}

/** Asks the daemon whose state folder this is. */
export function ask(folder: string, words: readonly string[]): Promise<Answer> {
  return new Promise(resolve => {
    const socket = connect(join(folder, SOCKET));
    let text = '';
    const give = (answer: Answer) => {
      socket.destroy();
      resolve(answer);
    };
    socket.setEncoding('utf8');
    socket.setTimeout(PATIENCE_MS, () => give({ ok: false, text: 'it does not answer.' }));
    socket.on('connect', () => socket.write(`${JSON.stringify(words)}\n`));
    socket.on('data', (piece: string) => {
      text += piece;
    });
    socket.on('error', error => {
      give({ ok: false, text: `no daemon listens in ${folder}: ${error.message}` });
    });
    socket.on('end', () => {
      try {
        give(JSON.parse(text) as Answer);
      } catch {
        give({ ok: false, text: 'it gave no answer.' });
      }
    });
  });
}
