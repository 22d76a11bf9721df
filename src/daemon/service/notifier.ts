import { spawn } from 'node:child_process';

/** Runs a program with arguments; `done` once, with why it failed or undefined. */
export type Runner = (args: readonly string[], done: (failure: string | undefined) => void) => void;

/**
 * systemd-notify waits until the manager has read the message (sd_notify(3), BARRIER=1), which an idle
 * manager does in milliseconds. With --no-block it would be gone before, and a message whose sender
 * is gone can't be put down to a unit (systemd-notify(1)). We wait for nothing: it is another process.
 */
const GIVES_UP_AFTER_MS = 5000;

const runSystemdNotify: Runner = (args, done) => {
  const child = spawn('systemd-notify', [...args], {
    stdio: 'ignore',
    timeout: GIVES_UP_AFTER_MS,
    killSignal: 'SIGKILL',
  });
  let finished = false;
  const finish = (failure: string | undefined) => {
    if (finished) return;
    finished = true;
    done(failure);
  };
  child.once('error', error => finish(error.message));
  child.once('close', (code, signal) => {
    if (code === 0) finish(undefined);
    else finish(signal === null ? `it ended with code ${code}` : `it was ended by ${signal}`);
  });
};

/**
 * Tells the service manager how the daemon is (sd_notify(3)). Node has no datagram sockets of the
 * Unix kind, so systemd-notify carries each message: one process at a time, what comes meanwhile is
 * gathered, the newest value of a variable wins.
 */
export class Notifier {
  #pending = new Map<string, string>();
  #busy = false;
  #idle: (() => void)[] = [];
  #failing = false;

  /** @param onFailure told once in a row of failures */
  constructor(
    private readonly onFailure: (reason: string) => void,
    private readonly run: Runner = runSystemdNotify,
  ) {}

  send(variables: Readonly<Record<string, string>>): void {
    for (const [name, value] of Object.entries(variables)) {
      // A message is lines of assignments; a line break in a value would begin another.
      this.#pending.set(name, value.replace(/[\r\n]+/g, ' '));
    }
    this.#next();
  }

  /** When all has been carried. */
  async settled(): Promise<void> {
    if (!this.#busy) return;
    await new Promise<void>(resolve => this.#idle.push(resolve));
  }

  #next(): void {
    if (this.#busy) return;
    if (this.#pending.size === 0) {
      for (const resolve of this.#idle.splice(0)) resolve();
      return;
    }
    const args = [...this.#pending].map(([name, value]) => `${name}=${value}`);
    this.#pending.clear();
    this.#busy = true;
    this.run(args, failure => {
      this.#busy = false;
      if (failure !== undefined && !this.#failing) this.onFailure(failure);
      this.#failing = failure !== undefined;
      this.#next();
    });
  }
}
