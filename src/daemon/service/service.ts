import { Carrier, type Runner } from './carrier.js';
import { Notifier } from './notifier.js';
import { strokePeriodS, Watchdog } from './watchdog.js';

export interface ServiceOptions {
  readonly env: Readonly<Record<string, string | undefined>>;
  readonly pid: number;
  /** Between two beats of the output, seconds. */
  readonly beatS: number;
  onFailure(reason: string): void;
  /** For tests: what carries a message, instead of systemd-notify by way of `Carrier`. */
  readonly run?: Runner;
}

/** A beat is on time within so many periods of the one before. */
const ON_TIME_BEATS = 4;

/** Talks to the service manager: ready, status, the watchdog's strokes, stopping. */
export class Service {
  readonly #notifier: Notifier;
  readonly #watchdog: Watchdog | undefined;
  #status = '';

  private constructor(options: ServiceOptions) {
    const { run, onFailure } = options;
    const carrier = new Carrier();
    this.#notifier = new Notifier(run ?? ((args, done) => carrier.carry(args, done)), onFailure);
    const periodS = strokePeriodS(options.env, options.pid);
    this.#watchdog =
      periodS === undefined ? undefined : new Watchdog(periodS, ON_TIME_BEATS * options.beatS);
  }

  /** undefined where no manager listens: nothing is spawned then. */
  static of(options: ServiceOptions): Service | undefined {
    return isService(options.env) ? new Service(options) : undefined;
  }

  ready(): void {
    this.#notifier.send({ READY: '1' });
  }

  /** One line for `systemctl status`. */
  status(text: string): void {
    if (text === this.#status) return;
    this.#status = text;
    this.#notifier.send({ STATUS: text });
  }

  beat(nowS: number, sinceLastS: number, hasSent: () => boolean): void {
    if (this.#watchdog?.beat(nowS, sinceLastS, hasSent)) this.#notifier.send({ WATCHDOG: '1' });
  }

  /** The fade to the safe look may take longer than the manager would wait. */
  stopping(withinS: number): void {
    this.#notifier.send({
      STOPPING: '1',
      STATUS: 'stopping: fading to the safe look',
      EXTEND_TIMEOUT_USEC: String(Math.ceil(withinS * 1e6)),
    });
  }

  settled(): Promise<void> {
    return this.#notifier.settled();
  }
}

/** Whether a service manager started this process, and listens. */
export function isService(env: Readonly<Record<string, string | undefined>>): boolean {
  return (env.NOTIFY_SOCKET ?? '') !== '';
}

/** The environment for a child: what the manager told us is not for it. */
export function withoutService(env: NodeJS.ProcessEnv): NodeJS.ProcessEnv {
  const { NOTIFY_SOCKET: _socket, WATCHDOG_USEC: _usec, WATCHDOG_PID: _pid, ...rest } = env;
  return rest;
}
