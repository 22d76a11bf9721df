import { setImmediate as turn } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';
import { unpackInParts } from '../../daemon/engine/packed-show.js';
import { mayTether } from '../../daemon/engine/tether.js';
import { ALLOW_MORE_FILES, END_OTHERS } from '../../daemon/machine/descriptor-limit.js';
import { startFault, systemFault } from '../../daemon/machine/system-fault.js';
import type { ProblemCode } from '../../show/problems/codes.js';
import { unreachable } from '../../stage/unreachable.js';
import { type LoadedShow, refusedShow } from '../files/show-file.js';

/** What a reading process may take. */
export interface ReadingLimits {
  readonly heapMiB: number;
  readonly longestMs: number;
}

type Loaded = Extract<LoadedShow, { ok: true }>;
type Refused = Extract<LoadedShow, { ok: false }>;
/** As that process sends it: the show only in parts, because building it in one go would hold up the light. */
export type ReadShow =
  | Refused
  | (Omit<Loaded, 'show' | 'packed'> & Required<Pick<Loaded, 'packed'>>);

/** The order for the thread (show-reader.ts). */
export interface ReadingOrder {
  readonly file: string;
  readonly limits: ReadingLimits;
  readonly isTethered: boolean;
}

/** The one answer of the thread. `no tether`: it has to be read again without a tether. */
export type ReadingOutcome =
  | { readonly kind: 'read'; readonly read: ReadShow }
  | { readonly kind: 'too late' }
  | { readonly kind: 'no tether' }
  | { readonly kind: 'not started'; readonly fault: StartFault }
  | { readonly kind: 'refused'; readonly why: string };

/** Why no process could be started. */
export interface StartFault {
  /** Such as `EMFILE`; undefined if the error has none. */
  readonly code: string | undefined;
  readonly text: string;
}

/** Message of a thread that could not start; the error's own code is always Node's. */
const NOT_BEGUN = /^Worker initialization failure: (E[A-Z]+)$/;

export function startFaultOf(error: unknown): StartFault {
  const { code, message } = Object(error) as {
    readonly code?: unknown;
    readonly message?: unknown;
  };
  const cause = typeof message === 'string' ? NOT_BEGUN.exec(message)?.[1] : undefined;
  if (cause !== undefined) {
    return {
      code: cause,
      text: systemFault(Object.assign(new Error(String(message)), { code: cause })),
    };
  }
  return { code: typeof code === 'string' ? code : undefined, text: startFault(error) };
}

/** Twice the memory that the largest accepted text takes; that takes ten seconds on a slow machine. */
const LIMITS: ReadingLimits = { heapMiB: 512, longestMs: 30_000 };

const CANT_BE_READ = "the show can't be read: ";

/** What the status says about a show that a reload did not take. */
export function notTaken({ problems }: Extract<LoadedShow, { ok: false }>): string {
  const codes = new Set(problems.map(({ code }) => code));
  if (codes.has('no-descriptor-free')) {
    const ofMachine = problems.some(({ message }) => message.includes(END_OTHERS));
    const whatToDo = (ofMachine ? END_OTHERS : ALLOW_MORE_FILES).replace(/\.$/, '');
    return `the show file was not read at the last reload: too many files are open. ${whatToDo}`;
  }
  const [first] = problems;
  return first !== undefined && codes.has('reading-failed') && codes.size === 1
    ? `the show file was not read at the last reload: ${first.message.replace(CANT_BE_READ, '').replace(/\.$/, '')}`
    : 'the show file was refused at the last reload';
}

/** Reads that have been asked for but have not begun, by file. */
const waiting = new Map<string, Promise<LoadedShow>>();
let last: Promise<unknown> = Promise.resolve();
let tethers = mayTether();

/**
 * Reads and checks a show in a process of its own, so that the caller goes on meanwhile and survives whatever the
 * files are: if that process runs out of memory or time, or dies, the show is refused here. One read at a time; a
 * request that comes while another waits to begin gets the same answer. Never rejects.
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
    const unread = (message: string, code: ProblemCode = 'reading-failed') => {
      // No line of the file is to blame.
      const place = { file, line: 0, column: 0, excerpt: '' };
      resolve(refusedShow([{ code, message, ...place }]));
    };
    const refuse = (why: string) => unread(`${CANT_BE_READ}${why}.`);
    const notStarted = ({ code, text }: StartFault) => {
      if (code !== 'EMFILE' && code !== 'ENFILE') {
        refuse(`no process can be started to read it (${text})`);
        return;
      }
      const whatToDo = code === 'EMFILE' ? ALLOW_MORE_FILES : END_OTHERS;
      unread(
        `${CANT_BE_READ}no process can be started to read it (${text}). Its text is not to blame. ${whatToDo}`,
        'no-descriptor-free',
      );
    };
    const order: ReadingOrder = { file, limits, isTethered: tethers };
    let reader: Worker;
    try {
      // Without the options of this process: some are for its own script.
      const options = { workerData: order, execArgv: [] };
      reader = new Worker(new URL('./show-reader.js', import.meta.url), options);
    } catch (error) {
      notStarted(startFaultOf(error));
      return;
    }
    // The first of these events counts.
    reader.once('message', (outcome: ReadingOutcome) => {
      switch (outcome.kind) {
        case 'read':
          resolve(unpacked(outcome.read));
          return;
        case 'too late':
          unread(
            `the machine was too busy to read it within ${limits.longestMs / 1e3} s; save it again.`,
          );
          return;
        case 'no tether':
          tethers = false;
          resolve(readInProcess(file, limits));
          return;
        case 'not started':
          notStarted(outcome.fault);
          return;
        case 'refused':
          refuse(outcome.why);
          return;
        default:
          unreachable(outcome);
      }
    });
    reader.once('error', error => notStarted(startFaultOf(error)));
    reader.once('exit', () => refuse('the thread that has it read ended'));
  });
}

/** Unpacks one part in each turn of the event loop. */
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
