import { type ChildProcess, fork } from 'node:child_process';
import { parentPort, workerData } from 'node:worker_threads';
import { isNoTether, isTethersWord, TETHER } from '../../daemon/engine/tether.js';
import {
  type ReadingOrder,
  type ReadingOutcome,
  type ReadShow,
  startFaultOf,
} from './show-in-child.js';

// A thread of `loadShowInChild`, for as long as a process reads. To start a process holds up the thread that does it
// until the other program has begun, on a busy machine for more than a beat: this one has no light to send. It stays
// until the process has ended, as the kernel ends a tethered process with the thread that started it (prctl(2)).

/** How much is kept of what the process writes before it ends. */
const LAST_WORDS_BYTES = 8192;
/** Node writes this before it ends itself. */
const OUT_OF_MEMORY = 'heap out of memory';

const { file, limits, isTethered } = workerData as ReadingOrder;
const tell = (outcome: ReadingOutcome) => parentPort?.postMessage(outcome);
const child = start();
if (child !== undefined) follow(child);

function start(): ChildProcess | undefined {
  const [execPath, ...tether] = isTethered ? [...TETHER, process.execPath] : [process.execPath];
  try {
    return fork(new URL('./show-process.js', import.meta.url), [file], {
      execPath,
      execArgv: [...tether, `--max-old-space-size=${limits.heapMiB}`],
      // Keeps maps and byte arrays as they are.
      serialization: 'advanced',
      stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
    });
  } catch (error) {
    tell({ kind: 'not started', fault: startFaultOf(error) });
    return undefined;
  }
}

function follow(child: ChildProcess): void {
  let lastWords = '';
  child.stderr?.setEncoding('utf8').on('data', (text: string) => {
    lastWords = (lastWords + text).slice(-LAST_WORDS_BYTES);
  });
  const timer = setTimeout(() => {
    tell({ kind: 'too late' });
    child.kill('SIGKILL');
  }, limits.longestMs);
  child.once('message', read => {
    clearTimeout(timer);
    child.kill('SIGKILL');
    tell({ kind: 'read', read: read as ReadShow });
  });
  child.once('error', error => {
    clearTimeout(timer);
    if (isTethered && isNoTether(error)) tell({ kind: 'no tether' });
    else tell({ kind: 'not started', fault: startFaultOf(error) });
  });
  // Not 'exit': its last words may still be in the pipe then.
  child.once('close', (code, signal) => {
    clearTimeout(timer);
    if (isTethered && isTethersWord(lastWords)) {
      tell({ kind: 'no tether' });
      return;
    }
    const why = lastWords.includes(OUT_OF_MEMORY)
      ? `reading it takes more than ${limits.heapMiB} MiB of memory`
      : `the process that reads it ${endOf(code, signal)}`;
    tell({ kind: 'refused', why });
  });
}

function endOf(code: number | null, signal: NodeJS.Signals | null): string {
  if (signal === null) return `ended with code ${code}`;
  // When memory is short, the kernel kills this process first (show-process.ts), and it can't say why.
  const who = signal === 'SIGKILL' ? ', by somebody or by the system, because memory ran out' : '';
  return `was killed (${signal}${who})`;
}
