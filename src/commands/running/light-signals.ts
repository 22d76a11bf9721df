import { readFileSync } from 'node:fs';
import { isatty } from 'node:tty';

export interface LightSignals {
  /** Ctrl-C, Ctrl-\, SIGTERM. */
  stop(): void;
  /** SIGHUP without a terminal; undefined: the command has no reload. */
  reload: (() => void) | undefined;
  /** A signal arrived that does nothing here. */
  ignored(signal: NodeJS.Signals, why: string): void;
}

const STOPS = ['SIGINT', 'SIGTERM', 'SIGQUIT'] as const;
/**
 * Without a listener each would end the process, open Node's debugger, or (SIGTTIN) stop it. SIGTTOU is not here:
 * with a listener, a write to a terminal that refuses it (`stty tostop`) would be tried again for ever.
 */
const MEANINGLESS = [
  'SIGUSR1',
  'SIGUSR2',
  'SIGALRM',
  'SIGVTALRM',
  'SIGPROF',
  'SIGIO',
  'SIGPWR',
  'SIGXCPU',
  'SIGTTIN',
] as const;

/**
 * What signals mean to a process that holds lights. None ends it without a fade, stops it, or opens Node's debugger
 * (SIGUSR1).
 * @returns a function that removes the listeners
 */
export function listenToSignals(handlers: LightSignals, onTerminal = hasTerminal()): () => void {
  const { stop, reload, ignored } = handlers;
  const hangUp = () => {
    if (reload !== undefined && !onTerminal) reload();
    else {
      ignored('SIGHUP', 'in a terminal it means that the terminal was closed; the light goes on');
    }
  };
  const listeners: [NodeJS.Signals, () => void][] = [
    ...STOPS.map((signal): [NodeJS.Signals, () => void] => [signal, stop]),
    ['SIGHUP', hangUp],
    ['SIGTSTP', () => ignored('SIGTSTP', 'a process that is stopped sends no light')],
    ...MEANINGLESS.map((signal): [NodeJS.Signals, () => void] => [
      signal,
      () => ignored(signal, 'it means nothing here'),
    ]),
  ];
  for (const [signal, listener] of listeners) process.on(signal, listener);
  return () => {
    for (const [signal, listener] of listeners) process.off(signal, listener);
  };
}

/** Index of `tty_nr` among the fields of /proc/PID/stat after the name of the program (proc_pid_stat(5): field 7). */
const TTY = 4;

/** Whether this process belongs to a terminal, even if its output is redirected (nohup, a pipe). */
export function hasTerminal(): boolean {
  if ([0, 1, 2].some(fd => isatty(fd))) return true;
  try {
    const stat = readFileSync('/proc/self/stat', 'latin1');
    const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
    return Number(fields[TTY]) !== 0;
  } catch {
    return false;
  }
}
