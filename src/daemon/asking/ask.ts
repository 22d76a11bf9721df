import { randomUUID } from 'node:crypto';
import { connect } from 'node:net';
import { userInfo } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { monotonicS } from '../machine/clock.js';
import type { Answer } from './answers.js';
import { noDaemonText } from './no-daemon.js';
import { doneWithinS } from './request-words.js';

/** The socket, in the state folder of a daemon. */
export const CONTROL_SOCKET = 'control.sock';
/** How often to ask again if the connection breaks, for instance because others crowd it out. */
const ASKS_AT_MOST = 5;
const ASKS_AGAIN_MS = 50;
/** A reload takes as long as the show takes to read; then the answer has to be fetched. */
export const STAYS_AT_MOST_MS = 30_000;

const NOBODY: ReadonlySet<string> = new Set(['ENOENT', 'ECONNREFUSED', 'ENOTDIR']);
/** Another user's, or one whose queue is full. */
const ALIVE: ReadonlySet<string> = new Set(['EACCES', 'EAGAIN']);

/**
 * Whether a daemon with this state folder is alive, even if it is suspended.
 * @returns an error if the system doesn't say (no descriptor is left, for instance)
 */
export function answers(folder: string): Promise<'alive' | 'nobody' | NodeJS.ErrnoException> {
  return new Promise(resolve => {
    const socket = connect(join(folder, CONTROL_SOCKET));
    const give = (answer: 'alive' | 'nobody' | NodeJS.ErrnoException) => {
      socket.destroy();
      resolve(answer);
    };
    socket.on('connect', () => give('alive'));
    socket.on('error', (error: NodeJS.ErrnoException) => {
      const code = error.code ?? '';
      give(NOBODY.has(code) ? 'nobody' : ALIVE.has(code) ? 'alive' : error);
    });
  });
}

export interface Asking {
  /** Who asks; by default the user of this process. */
  readonly user?: string;
  /** Tells apart several holds of one user on an enable; by default there is only one. */
  readonly hand?: string | undefined;
  /** When it is too late to do it, monotonic seconds; by default `doneWithinS` from now. */
  readonly untilS?: number | undefined;
}

/**
 * Asks the daemon with this state folder. If the connection breaks before the answer, it asks again: doing a thing
 * twice does no harm. Only a reload, which may take all light down and up, is never repeated.
 */
export async function ask(
  folder: string,
  words: readonly string[],
  asking: Asking = {},
): Promise<Answer> {
  const id = randomUUID();
  const withinS = doneWithinS(words[0]);
  const untilS = withinS === undefined ? undefined : monotonicS() + withinS;
  for (let asked = 1; ; asked++) {
    const answer = await askOnce(folder, {
      words,
      id,
      ...(asking.user === undefined && userNow()),
      ...asking,
      untilS: asking.untilS ?? untilS,
    });
    if (answer !== undefined) return answer;
    if (asked === ASKS_AT_MOST || words[0] === 'reload') {
      const text = 'the connection was closed without an answer. Ask for the status.';
      return { outcome: 'failed', ok: false, text };
    }
    await sleep(ASKS_AGAIN_MS);
  }
}

/** @returns undefined if the connection broke without an answer */
function askOnce(folder: string, request: object): Promise<Answer | undefined> {
  return new Promise(resolve => {
    const socket = connect(join(folder, CONTROL_SOCKET));
    let text = '';
    let isConnected = false;
    const give = (answer: Answer | undefined) => {
      socket.destroy();
      resolve(answer);
    };
    socket.setEncoding('utf8');
    socket.setTimeout(STAYS_AT_MOST_MS, () =>
      give({
        outcome: 'failed',
        ok: false,
        text: 'no answer: the daemon may be busy. Look at its log.',
      }),
    );
    socket.on('connect', () => {
      isConnected = true;
      socket.write(`${JSON.stringify(request)}\n`);
    });
    socket.on('data', (piece: string) => {
      text += piece;
    });
    socket.on('error', error => {
      if (isConnected) return give(undefined);
      give({ outcome: 'no daemon', ok: false, text: noDaemonText(folder, error) });
    });
    socket.on('end', () => {
      try {
        give(JSON.parse(text) as Answer);
      } catch {
        give(undefined);
      }
    });
    socket.on('close', () => give(undefined));
  });
}

/** The name of who asks, for the record; the folder's permissions decide who may. */
function userNow(): { readonly user?: string } {
  try {
    const { username, uid } = userInfo();
    return { user: `${process.env.SUDO_USER ?? username} uid ${uid}` };
  } catch {
    return {};
  }
}
