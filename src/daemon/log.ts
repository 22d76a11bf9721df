import { type Logger, type LoggerOptions, pino } from 'pino';
import { printable, printableColoured, printableLines } from '../stage/printable.js';
import { LogSink } from './log-sink.js';

export type LogFormat = 'json' | 'text';

export interface Log {
  readonly logger: Logger;
  readonly sink: LogSink;
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
  const sink = new LogSink({
    lossLine: (lost, reason) => {
      const entry = {
        level: pino.levels.values.warn,
        time: new Date().toISOString(),
        kind: 'log-lost',
        lost,
        reason,
        msg: `${lost} lines of log were lost: ${reason}`,
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
    singleLine: true,
    translateTime: 'SYS:HH:MM:ss.l',
  });
  return line => printableColoured(pretty(line));
}
