import { connect } from 'node:net';
import { join } from 'node:path';
import type { LiveLine } from '../../live/schema.js';
import type { Answer } from '../operator/answers.js';
import { CONTROL_SOCKET } from '../operator/control.js';
import { noDaemonText } from '../operator/no-daemon.js';

/** The stage of the largest house is below a megabyte. */
const LONGEST_LINE = 16 * 1024 * 1024;
/** The daemon says something each second. */
const SILENT_MS = 5000;

export interface Following {
  line(line: LiveLine): void;
  /** It is over: why, in a sentence. Called once. */
  ended(why: string): void;
}

/** The snapshot stream of the daemon whose state folder this is. @returns ends it, and `ended` is not told then */
export function follow(folder: string, rateHz: number, { line, ended }: Following): () => void {
  const socket = connect(join(folder, CONTROL_SOCKET));
  let text = '';
  let isOver = false;
  const end = (why: string) => {
    if (isOver) return;
    isOver = true;
    socket.destroy();
    ended(why);
  };
  socket.setEncoding('utf8');
  socket.setTimeout(SILENT_MS, () => end('the daemon says nothing any more.'));
  socket.on('connect', () => socket.write(`${JSON.stringify(['watch', String(rateHz)])}\n`));
  socket.on('error', error => end(noDaemonText(folder, error)));
  socket.on('close', () => end('the daemon has closed the connection.'));
  socket.on('data', (piece: string) => {
    const lines = (text + piece).split('\n');
    text = lines.pop() ?? '';
    if (text.length > LONGEST_LINE) end('the daemon sends a line without an end.');
    for (const one of lines) {
      if (isOver) return;
      const said = read(one);
      if (said === undefined)
        end('the daemon sends what is no snapshot: is it of another version?');
      else if ('kind' in said) line(said);
      else end(said.text);
    }
  });
  return () => {
    isOver = true;
    socket.destroy();
  };
}

/** A line of the stream, or an answer that refuses it. */
function read(line: string): LiveLine | Answer | undefined {
  try {
    const value = JSON.parse(line) as LiveLine | Answer;
    return typeof value === 'object' && value !== null ? value : undefined;
  } catch {
    return undefined;
  }
}
