import { type Logger, pino } from 'pino';
import { prettyFactory } from 'pino-pretty';
import { LogSink } from './log-sink.js';

export type LogFormat = 'json' | 'text';

export interface Log {
  readonly logger: Logger;
  readonly sink: LogSink;
}

/** JSON lines for a machine, or one readable line an entry for a person; to standard output. */
export function createLog(format: LogFormat): Log {
  const options = { base: null, timestamp: pino.stdTimeFunctions.isoTime };
  const readable = prettyFactory({
    colorize: process.stdout.isTTY === true && process.env.NO_COLOR === undefined,
    singleLine: true,
    translateTime: 'SYS:HH:MM:ss.l',
  });
  const dress = (line: string) => (format === 'json' ? line : readable(line));
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
