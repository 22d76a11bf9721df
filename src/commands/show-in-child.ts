import { type ChildProcess, fork } from 'node:child_process';
import { setImmediate as turn } from 'node:timers/promises';
import { unpackInParts } from '../daemon/packed-show.js';
import { isNoTether, isTethersWord, mayTether, TETHER } from '../daemon/tether.js';
import { messageOf } from '../stage/message-of.js';
import { type LoadedShow, refusedShow } from './show-file.js';

/** What a reading process may take. */
export interface ReadingLimits {
  readonly heapMiB: number;
  readonly longestMs: number;
}

type Loaded = Extract<LoadedShow, { ok: true }>;
type Refused = Extract<LoadedShow, { ok: false }>;
/** As it comes from that process: a show in parts alone, as to make one of it at once holds up the light. */
export type ReadShow =
  | Refused
  | (Omit<Loaded, 'show' | 'packed'> & Required<Pick<Loaded, 'packed'>>);

/** Of what it says at its end. */
const LAST_WORDS_BYTES = 8192;
/** Node says it before it ends itself. */
const OUT_OF_MEMORY = 'heap out of memory';

/** Twice what the largest text that is parsed takes; which takes ten seconds on a slow machine. */
const LIMITS: ReadingLimits = { heapMiB: 512, longestMs: 30_000 };

/** What the status says of a show that a reload did not take. */
export function notTaken({ problems }: Extract<LoadedShow, { ok: false }>): string {
  return problems.some(({ code }) => code !== 'reading-failed')
    ? 'the show file was refused at the last reload'
    : 'the show file was not read at the last reload: the machine was too busy, or short of memory';
}

/** Reads that are asked for and have not begun, by file. */
const waiting = new Map<string, Promise<LoadedShow>>();
let last: Promise<unknown> = Promise.resolve();
let tethers = mayTether();

/**
 * Reads and checks a show in a process of its own, so that the caller goes on meanwhile, and lives on whatever
 * the files are: memory, time and death are those of the other process, and a refused show here. One read at a
 * time; what is asked for while another is waiting to begin is answered by that one. Never rejects.
 */
export function loadShowInChild(file: string, limits = LIMITS): Promise<LoadedShow> {
  const sooner = waiting.get(file);
  if (sooner !== undefined) return sooner;
  const read = last.then(() => {
    waiting.delete(file);
    return readInProcess(file, limits);
  });
  waiting.set(file, read);
  last = read;
  return read;
}

function readInProcess(file: string, limits: ReadingLimits): Promise<LoadedShow> {
  return new Promise(resolve => {
    const unread = (message: string) => {
      // No line of the file is to blame.
      const place = { file, line: 0, column: 0, excerpt: '' };
      resolve(refusedShow([{ code: 'reading-failed', message, ...place }]));
    };
    const refuse = (why: string) => unread(`the show can't be read: ${why}.`);
    const again = () => {
      tethers = false;
      resolve(readInProcess(file, limits));
    };
    const isTethered = tethers;
    const [execPath, ...tether] = isTethered ? [...TETHER, process.execPath] : [process.execPath];
    let child: ChildProcess;
    try {
      child = fork(new URL('./show-process.js', import.meta.url), [file], {
        execPath,
        execArgv: [...tether, `--max-old-space-size=${limits.heapMiB}`],
        // Maps and arrays of bytes come as they are.
        serialization: 'advanced',
        stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
      });
    } catch (error) {
      refuse(`no process can be started to read it (${messageOf(error)})`);
      return;
    }
    let lastWords = '';
    child.stderr?.setEncoding('utf8').on('data', (text: string) => {
      lastWords = (lastWords + text).slice(-LAST_WORDS_BYTES);
    });
    const timer = setTimeout(() => {
      unread(
        `the machine was too busy to read it within ${limits.longestMs / 1e3} s; save it again.`,
      );
      child.kill('SIGKILL');
    }, limits.longestMs);
    child.once('message', read => {
      clearTimeout(timer);
      child.kill('SIGKILL');
      resolve(unpacked(read as ReadShow));
    });
    child.once('error', error => {
      clearTimeout(timer);
      if (isTethered && isNoTether(error)) again();
      else refuse(`no process can be started to read it (${messageOf(error)})`);
    });
    // Not 'exit': what it said last may still be in the pipe then.
    child.once('close', (code, signal) => {
      clearTimeout(timer);
      if (isTethered && isTethersWord(lastWords)) {
        again();
        return;
      }
      refuse(
        lastWords.includes(OUT_OF_MEMORY)
          ? `reading it takes more than ${limits.heapMiB} MiB of memory`
          : `the process that reads it ${endOf(code, signal)}`,
      );
    });
  });
}

/** A part in a turn. */
async function unpacked(read: ReadShow): Promise<LoadedShow> {
  if (!read.ok) return read;
  const parts = unpackInParts(read.packed);
  for (;;) {
    await turn();
    const { done, value: show } = parts.next();
    if (done !== true) continue;
    await turn();
    return { ...read, show };
  }
}

function endOf(code: number | null, signal: NodeJS.Signals | null): string {
  if (signal === null) return `ended with code ${code}`;
  // The first process that the kernel ends where memory is short (show-process.ts); it leaves no word.
  const who = signal === 'SIGKILL' ? ', by somebody or by the system, because memory ran out' : '';
  return `was killed (${signal}${who})`;
}
