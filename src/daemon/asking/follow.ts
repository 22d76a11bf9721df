import { randomUUID } from 'node:crypto';
import { connect } from 'node:net';
import { join } from 'node:path';
import type { LiveLine } from '../../live/schema.js';
import type { Answer } from './answers.js';
import { type Asking, CONTROL_SOCKET } from './ask.js';
import { noDaemonText } from './no-daemon.js';

/** The stage of the largest house is below a megabyte. */
const LONGEST_LINE = 16 * 1024 * 1024;
/** The daemon says something each second. */
const SILENT_MS = 5000;
const ANSWERS_WITHIN_MS = 8000;

export interface Following {
  line(line: LiveLine): void;
  /** Called once when it is over, with the reason in a sentence. */
  ended(why: string): void;
}

export interface Followed {
  /** `ended` is not called then. */
  end(): void;
  /** Another rate from now on, on the same connection. */
  turn(rateHz: number): void;
  /** Asks the daemon on the same connection, as `ask` does. @returns undefined if no answer came */
  ask(words: readonly string[], asking: Asking): Promise<Answer | undefined>;
}

/** The snapshot stream of the daemon whose state folder this is. */
export function follow(folder: string, firstHz: number, { line, ended }: Following): Followed {
  const socket = connect(join(folder, CONTROL_SOCKET));
  const waiting = new Map<string, (answer: Answer | undefined) => void>();
  let rateHz = firstHz;
  let text = '';
  let isOver = false;
  const close = () => {
    isOver = true;
    socket.destroy();
    for (const give of waiting.values()) give(undefined);
  };
  const end = (why: string) => {
    if (isOver) return;
    close();
    ended(why);
  };
  const write = (request: object) => socket.write(`${JSON.stringify(request)}\n`);
  const watch = () => write(['watch', String(rateHz)]);
  socket.setEncoding('utf8');
  socket.setTimeout(SILENT_MS, () => end('the daemon has stopped answering.'));
  socket.on('connect', watch);
  socket.on('error', error => end(noDaemonText(folder, error)));
  socket.on('close', () => end('the daemon has closed the connection.'));
  socket.on('data', (piece: string) => {
    const lines = (text + piece).split('\n');
    text = lines.pop() ?? '';
    if (text.length > LONGEST_LINE) end('the daemon sends a line that never ends.');
    for (const one of lines) {
      if (isOver) return;
      const said = read(one);
      if (said === undefined)
        end('the daemon sent something that is not a snapshot: is it another version?');
      else if ('kind' in said) line(said);
      else if (said.id !== undefined) waiting.get(said.id)?.(said);
      else end(said.text);
    }
  });
  return {
    end: close,
    turn: wantedHz => {
      rateHz = wantedHz;
      if (!socket.connecting && !isOver) watch();
    },
    ask: (words, asking) =>
      new Promise(resolve => {
        if (socket.connecting || isOver) return resolve(undefined);
        const id = randomUUID();
        const give = (answer: Answer | undefined) => {
          clearTimeout(timer);
          waiting.delete(id);
          resolve(answer);
        };
        const timer = setTimeout(() => give(undefined), ANSWERS_WITHIN_MS);
        waiting.set(id, give);
        write({ words, id, ...asking });
      }),
  };
}

/** An answer, with the id of a request made on a watching connection. */
type Said = Answer & { readonly id?: string };

/** A line of the stream, or an answer that refuses it. */
function read(line: string): LiveLine | Said | undefined {
  try {
    const value = JSON.parse(line) as LiveLine | Said;
    return typeof value === 'object' && value !== null ? value : undefined;
  } catch {
    return undefined;
  }
}
