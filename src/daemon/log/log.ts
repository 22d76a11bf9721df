import { constants, fstatSync, openSync, write } from 'node:fs';
import { isatty } from 'node:tty';
import { type Logger, type LoggerOptions, pino } from 'pino';
import { printable, printableColoured, printableLines } from '../../stage/printable.js';
import { LogSink } from './log-sink.js';

const { O_NOCTTY, O_NONBLOCK, O_WRONLY } = constants;

export type LogFormat = 'json' | 'text';

export interface Log {
  readonly logger: Logger;
  readonly sink: LogSink;
}

/**
 * Standard output, so that a write never waits: the end of a process waits for its threads, and one that writes to a
 * stopped terminal (Ctrl-S) or to a pipe that nobody reads would hold it for ever. The shell's own end stays as it is.
 */
function standardOutput(): number {
  try {
    if (!isatty(1) && !fstatSync(1).isFIFO()) return 1;
    return openSync('/proc/self/fd/1', O_WRONLY | O_NONBLOCK | O_NOCTTY);
  } catch {
    return 1;
  }
}

/** JSON lines for a machine, or one readable line an entry for a person; to standard output. */
export async function createLog(format: LogFormat): Promise<Log> {
  const options: LoggerOptions = {
    base: null,
    timestamp: pino.stdTimeFunctions.isoTime,
    hooks: {
      // A line stays a line, whatever a label or a name on the wire says.
      logMethod(args, method) {
        const clean = args.map(one => (typeof one === 'string' ? printable(one) : one));
        method.apply(this, clean as typeof args);
      },
    },
  };
  const dress = format === 'json' ? printableLines : await readableLines();
  const output = standardOutput();
  const sink = new LogSink({
    writer: (bytes, done) => write(output, bytes, done),
    lossLine: (lost, reason) => {
      const entry = {
        level: pino.levels.values.warn,
        time: new Date().toISOString(),
        kind: 'log-lost',
        lost,
        reason,
        msg: `${lost} lines of the log were lost: ${reason}`,
      };
      return dress(`${JSON.stringify(entry)}\n`);
    },
  });
  return { logger: pino(options, { write: line => sink.write(dress(line)) }), sink };
}

/** Loaded where people read along: a daemon that starts after a crash does not wait for it. */
async function readableLines(): Promise<(line: string) => string> {
  const { prettyFactory } = await import('pino-pretty');
  const pretty = prettyFactory({
    colorize: process.stdout.isTTY === true && process.env.NO_COLOR === undefined,
    hideObject: true,
    // Of an event these are no names of a logger and no processes of ours.
    ignore: 'pid,hostname,name',
    translateTime: 'SYS:HH:MM:ss.l',
  });
  return line => printableColoured(pretty(line));
}
