import { type Logger, pino } from 'pino';
import pretty from 'pino-pretty';

export type LogFormat = 'json' | 'text';

/** JSON lines for a machine, or one readable line an entry for a person. */
export function createLog(format: LogFormat): Logger {
  const options = { base: null, timestamp: pino.stdTimeFunctions.isoTime };
  if (format === 'json') return pino(options, pino.destination({ dest: 1, sync: true }));
  const stream = pretty({
    colorize: process.stdout.isTTY === true && process.env.NO_COLOR === undefined,
    singleLine: true,
    translateTime: 'SYS:HH:MM:ss.l',
    destination: 1,
    sync: true,
  });
  return pino(options, stream);
}
