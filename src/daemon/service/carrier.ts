import { type ChildProcess, spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { createInterface } from 'node:readline';
import type { Readable } from 'node:stream';
import { messageOf } from '../../stage/message-of.js';

/** Carries a message of assignments; `done` once, with why it failed or undefined. */
export type Runner = (args: readonly string[], done: (failure: string | undefined) => void) => void;

/**
 * systemd-notify waits until the manager has read the message (sd_notify(3), BARRIER=1), which an idle
 * manager does in milliseconds. With --no-block it would be gone before, and a message whose sender
 * is gone can't be put down to a unit (systemd-notify(1)). We wait for nothing: it is another process.
 */
const GIVES_UP_AFTER_MS = 5000;
/**
 * A shell that was stopped (SIGSTOP) would cost the watchdog's stroke, which is due three times in its 2 s: so soon it
 * is looked at. One that waits for a busy manager is let wait: its message counts only while its sender is there.
 */
const LOOK_AFTER_MS = 250;
/** Between two assignments of a message: a character that `read` keeps apart, and no status has. */
const BETWEEN = '\x1f';
/** Room for all five variables that there are. For each line one message, and one line in return: `ok`, or what systemd-notify says. */
const SCRIPT = `
while IFS="$1" read -r a b c d e; do
  if said=$(systemd-notify "$a" \${b:+"$b"} \${c:+"$c"} \${d:+"$d"} \${e:+"$e"} 2>&1 </dev/null); then echo ok
  else printf '%s\\n' "it ended with code $?: $said" | tr '\\n' ' '; echo
  fi
done`;

/**
 * Node has no datagram sockets of the Unix kind, so systemd-notify carries each message. It is started by a
 * shell that is started once: where no process or descriptor is left for the supervisor, messages still go.
 */
export class Carrier {
  #shell: ChildProcess | undefined;
  #done: ((failure: string | undefined) => void) | undefined;
  #timer: NodeJS.Timeout | undefined;
  #lookTimer: NodeJS.Timeout | undefined;

  /** One at a time: not before the last is done. */
  carry(args: readonly string[], done: (failure: string | undefined) => void): void {
    this.#done = done;
    this.#timer = setTimeout(() => this.#fail('it does not end'), GIVES_UP_AFTER_MS);
    this.#timer.unref();
    this.#lookTimer = setInterval(() => this.#look(), LOOK_AFTER_MS).unref();
    try {
      this.#shell ??= this.#start();
      this.#shell.stdin?.write(`${args.join(BETWEEN)}\n`);
    } catch (error) {
      this.#fail(messageOf(error));
    }
  }

  /** The shell ends by itself when this process does. */
  end(): void {
    this.#shell?.stdin?.end();
  }

  #start(): ChildProcess {
    const shell = spawn('sh', ['-c', SCRIPT, 'sh', BETWEEN], {
      stdio: ['pipe', 'pipe', 'ignore'],
      detached: true,
    });
    const gone = (why: string) => {
      if (this.#shell !== shell) return;
      this.#fail(why);
    };
    shell.on('error', error => gone(error.message));
    shell.once('close', (code, signal) => gone(`its shell ended with ${signal ?? `code ${code}`}`));
    // With no descriptor left Node makes no pipes at all, whatever its types say; 'error' tells of it.
    const [stdin, stdout] = (shell.stdio as typeof shell.stdio | undefined) ?? [];
    stdin?.on('error', error => gone(error.message));
    stdout?.on('error', error => gone(error.message));
    if (stdout) {
      createInterface({ input: stdout as Readable }).on('line', line => {
        this.#finish(line === 'ok' ? undefined : line.trim());
      });
    }
    return shell;
  }

  #look(): void {
    const pid = this.#shell?.pid;
    if (pid !== undefined && isStopped(pid)) this.#fail('its shell was stopped');
  }

  /** Whatever has become of the shell, the next message has another. */
  #fail(why: string): void {
    const shell = this.#shell;
    this.#shell = undefined;
    try {
      // With what it has started: a systemd-notify that hangs, or is stopped, would stay for good.
      if (shell?.pid !== undefined) process.kill(-shell.pid, 'SIGKILL');
    } catch {
      // It ends when its standard input closes.
    }
    this.#finish(why);
  }

  #finish(failure: string | undefined): void {
    clearTimeout(this.#timer);
    clearInterval(this.#lookTimer);
    const done = this.#done;
    this.#done = undefined;
    done?.(failure);
  }
}

/** Whether a process or one of its children is stopped by a signal or a debugger (proc(5): T, t). */
function isStopped(pid: number): boolean {
  try {
    const [, rest = ''] = readFileSync(`/proc/${pid}/stat`, 'latin1').split(') ');
    if (/^[Tt]/.test(rest)) return true;
    const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'latin1').trim();
    return children !== '' && children.split(' ').some(child => isStopped(Number(child)));
  } catch {
    return false; // it has ended this instant, or no descriptor is left
  }
}
