import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { type TurnedAway, turnedAwayInWords } from '../../live/turned-away.js';
import { unreachable } from '../../stage/unreachable.js';
import { isNoTether, isTethersWord, mayTether, TETHER } from '../engine/tether.js';
import { startFault } from '../machine/system-fault.js';
import { withoutService } from '../service/service.js';
import type { PanelOptions } from './panel-options.js';

/** The first line to the panel process, on its standard input; it ends when that closes. */
export interface PanelOrders extends PanelOptions {
  readonly folder: string;
}

/** What it says, a line of JSON each. */
export type PanelWord =
  | { readonly kind: 'listening'; readonly url: string }
  | { readonly kind: 'fault'; readonly message: string }
  /** Something that somebody should know, and that keeps it from nothing. */
  | { readonly kind: 'warning'; readonly message: string }
  /** What is wrong, for as long as it lasts; without a message: nothing any more. */
  | { readonly kind: 'trouble'; readonly message?: string | undefined }
  /** It shows browsers another certificate from now on. */
  | { readonly kind: 'renewed' }
  /** What it has turned away since it began, and since it told of that last. */
  | {
      readonly kind: 'turned-away';
      readonly all: readonly TurnedAway[];
      readonly since: readonly TurnedAway[];
    }
  | { readonly kind: 'beat' };

export type PanelEvent =
  | { readonly kind: 'panel'; readonly state: 'listening'; readonly url: string }
  | { readonly kind: 'panel'; readonly state: 'warning'; readonly reason: string }
  | { readonly kind: 'panel'; readonly state: 'renewed' }
  | {
      readonly kind: 'panel';
      readonly state: 'turned-away';
      readonly all: readonly TurnedAway[];
      readonly since: readonly TurnedAway[];
    }
  | {
      readonly kind: 'panel';
      readonly state: 'trouble';
      readonly reason: string | undefined;
    }
  | {
      readonly kind: 'panel';
      readonly state: 'gone';
      readonly reason: string;
      readonly again: number;
    };

/** Delay before the panel starts, so that the light has the machine to itself at first, ms. */
const STARTS_AFTER_MS = 2000;
/** One that says nothing for so long hangs, ms: it beats each second, and is the last to get the processor. */
const SILENT_MS = 20_000;
const LOOKS_EVERY_MS = 2000;
const FIRST_RESTART_S = 1;
const LONGEST_RESTART_S = 30;
/** One that has run for so long is no longer part of a series of crashes, ms. */
const RECOVERED_MS = 60_000;
/** How much of its standard error is kept, characters; one line of it is reported. */
const MOST_CRIES = 16_384;
const MOST_CRY = 200;
const LAST_WORDS_MS = 500;
/** So long its end is waited for, ms: one that waits for a disk can't even be killed. */
const GONE_WITHIN_MS = 500;
/** MiB. */
const MOST_HEAP = '--max-old-space-size=128';

/** Starts the panel's process, and starts it again when it ends or hangs. The light does not wait for any of it. */
export class PanelRunner {
  #child: ChildProcess | undefined;
  #timer: NodeJS.Timeout | undefined;
  #watch: NodeJS.Timeout | undefined;
  #heardMs = 0;
  #beganMs = 0;
  #restartS = FIRST_RESTART_S;
  #fault: string | undefined;
  #ending = false;
  /** One that is stopped would keep its port when this process is killed. */
  #tethered = mayTether();

  constructor(
    private readonly orders: PanelOrders,
    private readonly onEvent: (event: PanelEvent) => void,
  ) {}

  get pid(): number | undefined {
    return this.#child?.pid;
  }

  start(): void {
    this.#timer = setTimeout(() => this.#spawn(), STARTS_AFTER_MS);
    this.#watch = setInterval(() => this.#look(), LOOKS_EVERY_MS).unref();
  }

  /** @returns when its process is gone and its port is free, or the system has not said so for a while */
  async end(): Promise<void> {
    this.#ending = true;
    clearTimeout(this.#timer);
    clearInterval(this.#watch);
    const child = this.#child;
    if (child === undefined || child.exitCode !== null || child.signalCode !== null) return;
    const gone = new Promise(resolve => child.once('exit', resolve));
    child.stdin?.end();
    // What hangs is not asked twice.
    child.kill('SIGKILL');
    await Promise.race([gone, sleep(GONE_WITHIN_MS, undefined, { ref: false })]);
  }

  #spawn(): void {
    const entry = process.argv[1];
    if (entry === undefined || this.#ending) return;
    this.#beganMs = performance.now();
    this.#heardMs = this.#beganMs;
    this.#fault = undefined;
    let child: ChildProcess;
    try {
      const node = [process.execPath, MOST_HEAP, entry, 'panel-process'];
      const [command = '', ...args] = [...(this.#tethered ? TETHER : []), ...node];
      child = spawn(command, args, {
        stdio: ['pipe', 'pipe', 'pipe'],
        env: withoutService(process.env),
        detached: true,
      });
    } catch (error) {
      this.#ended(startFault(error));
      return;
    }
    this.#child = child;
    child.on('error', error => {
      if (!this.#goesUntethered(child, isNoTether(error))) this.#gone(child, startFault(error));
    });
    let cries = '';
    child.stderr?.on('data', (bytes: Buffer) => {
      cries = (cries + bytes.toString('latin1')).slice(-MOST_CRIES);
    });
    child.on('exit', (code, signal) => {
      const how = signal === null ? `it ended with code ${code}` : `it was ended by ${signal}`;
      const gone = () => {
        const isTethers = cries.split('\n').some(isTethersWord);
        if (this.#goesUntethered(child, isTethers)) return;
        this.#gone(child, [how, ...lastCry(cries)].join(': '));
      };
      // What it said last may come after its end, but is not waited for long.
      child.once('close', gone);
      setTimeout(gone, LAST_WORDS_MS).unref();
    });
    for (const stream of [child.stdin, child.stdout, child.stderr])
      stream?.on('error', () => undefined);
    child.stdin?.write(`${JSON.stringify(this.orders)}\n`);
    if (child.stdout) createInterface({ input: child.stdout }).on('line', line => this.#hear(line));
  }

  #hear(line: string): void {
    this.#heardMs = performance.now();
    const word = wordOf(line);
    if (word?.kind === 'listening')
      this.onEvent({ kind: 'panel', state: 'listening', url: word.url });
    if (word?.kind === 'warning')
      this.onEvent({ kind: 'panel', state: 'warning', reason: word.message });
    if (word?.kind === 'renewed') this.onEvent({ kind: 'panel', state: 'renewed' });
    if (word?.kind === 'trouble')
      this.onEvent({ kind: 'panel', state: 'trouble', reason: word.message });
    if (word?.kind === 'turned-away') {
      const { all, since } = word;
      this.onEvent({ kind: 'panel', state: 'turned-away', all, since });
    }
    if (word?.kind === 'fault') this.#fault = word.message;
  }

  #look(): void {
    const nowMs = performance.now();
    if (this.#child === undefined) return;
    if (nowMs - this.#beganMs > RECOVERED_MS) this.#restartS = FIRST_RESTART_S;
    if (nowMs - this.#heardMs <= SILENT_MS) return;
    this.#fault ??= 'it said nothing for a while, so it was killed';
    this.#child.kill('SIGKILL');
  }

  /** @returns whether it could not be tethered, and is started without */
  #goesUntethered(child: ChildProcess, isTethersFault: boolean): boolean {
    if (child !== this.#child || !this.#tethered || !isTethersFault) return false;
    this.#tethered = false;
    this.#child = undefined;
    this.#spawn();
    return true;
  }

  #gone(child: ChildProcess, reason: string): void {
    if (child !== this.#child) return;
    this.#child = undefined;
    this.#ended(reason);
  }

  #ended(reason: string): void {
    if (this.#ending) return;
    const again = this.#restartS;
    this.#restartS = Math.min(LONGEST_RESTART_S, again * 2);
    this.onEvent({ kind: 'panel', state: 'gone', reason: this.#fault ?? reason, again });
    this.#timer = setTimeout(() => this.#spawn(), again * 1e3);
  }
}

/** The line that says why, as Node or V8 words it; otherwise the last one. */
export function lastCry(cries: string): string[] {
  const lines = cries
    .split(/[\r\n]+/)
    .map(line => line.replace(/[^\x20-\x7e]/g, '').trim())
    .filter(line => line !== '' && !/^Node\.js v\d/.test(line));
  const why =
    lines.findLast(line => /^(Uncaught )?(\w*Error|FATAL ERROR)\b/.test(line)) ?? lines.at(-1);
  return why === undefined ? [] : [why.slice(0, MOST_CRY)];
}

function wordOf(line: string): PanelWord | undefined {
  try {
    return JSON.parse(line) as PanelWord;
  } catch {
    return undefined;
  }
}

/** What is wrong with it from now on, `what` undefined: nothing; undefined: the event changes nothing of that. */
export function troubleOfPanel(event: PanelEvent): { readonly what?: string } | undefined {
  switch (event.state) {
    case 'gone':
      return { what: `no panel: ${event.reason}` };
    case 'trouble':
      return event.reason === undefined ? {} : { what: `the panel: ${event.reason}` };
    case 'listening':
      return {};
    case 'warning':
    case 'renewed':
    case 'turned-away':
      return undefined;
    default:
      return unreachable(event);
  }
}

/** For the log. */
export function describePanel(event: PanelEvent): {
  level: 'info' | 'warn';
  text: string;
  data: object;
} {
  switch (event.state) {
    case 'listening':
      return { level: 'info', text: `the panel is at ${event.url}`, data: event };
    case 'warning':
      return { level: 'warn', text: `the panel: ${event.reason}`, data: event };
    case 'renewed':
      return { level: 'info', text: 'the panel uses the renewed certificate', data: event };
    case 'turned-away': {
      const { since } = event;
      const counts = Object.fromEntries(since.map(({ reason, count }) => [reason, count]));
      return {
        level: 'warn',
        text: `the panel turned away ${turnedAwayInWords(since)}`,
        data: { kind: event.kind, state: event.state, counts, from: since.map(one => one.from) },
      };
    }
    case 'trouble':
      return event.reason === undefined
        ? { level: 'info', text: 'nothing is wrong with the panel any more', data: event }
        : { level: 'warn', text: `the panel: ${event.reason}`, data: event };
    case 'gone': {
      const reason = event.reason.replace(/\.$/, '');
      const text = `no panel: ${reason}; it is started again in ${event.again} s. The light does not need it`;
      return { level: 'warn', text, data: event };
    }
    default:
      return unreachable(event);
  }
}
