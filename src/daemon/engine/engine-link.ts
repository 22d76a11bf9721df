import { type ChildProcess, type SpawnOptions, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import type { Readable, Writable } from 'node:stream';
import { setTimeout as sleep } from 'node:timers/promises';
import type { EngineEvent } from '../../engine/events/events.js';
import type { PositionRound } from '../../engine/positions-out.js';
import type { Counters } from '../../engine/values/counters.js';
import type { DeskLevels } from '../../engine/values/inputs.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { Doubts } from '../../live/engine-part.js';
import type { PositionTimes } from '../../live/light-delays.js';
import { unpackSlots } from '../../show/model/patched-slots.js';
import type { Section } from '../../show/model/sections.js';
import { messageOf } from '../../stage/message-of.js';
import { unreachable } from '../../stage/unreachable.js';
import { monotonicS } from '../machine/clock.js';
import { startFault } from '../machine/system-fault.js';
import { MAY_COLLECT } from '../machine/young.js';
import type { MessageType } from '../pipe/layout.js';
import { PipeReader } from '../pipe/reader.js';
import type { RecordingNews } from '../recorder/engine-recorder.js';
import { withoutService } from '../service/service.js';
import {
  type Begin,
  type DeskOnPipe,
  ENGINE_PIPE_FD,
  type EngineOrders,
  type FirstOrders,
  type LaterOrders,
  type OrdersOnPipe,
  type ShowOnPipe,
} from './engine-orders.js';
import { isNoTether, isTethersWord, mayTether, TETHER } from './tether.js';

/** The core's events, and what the engine's shell reports besides. */
export type EngineNews =
  | EngineEvent
  | RecordingNews
  | { readonly kind: 'input-fault'; readonly message: string }
  | { readonly kind: 'input-back'; readonly message: string }
  | {
      readonly kind: 'tick';
      readonly startS: number;
      readonly tookS: number;
      readonly datagrams: number;
    };

export interface EngineCounters extends Counters {
  readonly lateTicks: number;
  readonly framesSkipped: number;
  readonly messagesDropped: number;
  readonly heapUsed: number;
  readonly rss: number;
  /** No counter, but as old as these. */
  readonly doubts?: Doubts | undefined;
}

type NewsType = Exclude<MessageType, 'frame'>;

export interface LinkHooks {
  /** A process is about to be started, which takes some descriptors. */
  starts?(): void;
  /** A section of a frame on time; its levels have been copied to `EngineLink.levels`. */
  section(section: number): void;
  events(events: readonly EngineNews[]): void;
  counters(counters: EngineCounters): void;
  /** JSON of a `LiveEngine`. */
  snapshot(text: string): void;
  positions(rounds: readonly PositionRound[]): void;
  /** It waits for `go`. */
  prepared(): void;
  /** From its next frame on it is the show of `takeShow`. */
  tookOver(): void;
  /** It has dropped that show, as `keepShow` asked. */
  keptShow(): void;
  started(pid: number): void;
  /** What the engine wrote to its standard error, a line at a time. */
  said(line: string): void;
  /**
   * It is gone, and `start` may be called again.
   * @param failed by its own doing; otherwise it was ended, or could not be started
   */
  ended(reason: string, fatal: string | undefined, failed: boolean): void;
}

/** Datagrams die young: with room for more of them the collector comes between ticks less often. */
const ROOM_FOR_THE_YOUNG = '--max-semi-space-size=32';
/** MiB: beyond this the engine ends by itself and is restarted, instead of taking the machine's memory. */
const MOST_HEAP = '--max-old-space-size=512';
/**
 * Until the engine listens to signals itself, a tenth of a second, SIGUSR1 would open Node's debugger. Node 22.14 and
 * 23.7 can be told not to; one before them refuses to start with an option that it does not know.
 */
const NO_DEBUGGER = '--disable-sigusr1';
/** How long an engine may take to go by itself. */
const ENDS_WITHIN_MS = 500;
/** And until it counts as gone although the system has not said so. */
const GIVEN_UP_AFTER_MS = 1500;
/** Signals that no program sends to itself when it fails. */
const FROM_OUTSIDE: ReadonlySet<NodeJS.Signals> = new Set([
  'SIGKILL',
  'SIGTERM',
  'SIGINT',
  'SIGHUP',
  'SIGQUIT',
]);
/** With more unread orders than this, the engine counts as hearing nothing. */
const MOST_UNREAD_BYTES = 1024 * 1024;
/** Starts a process, as `spawn` of node:child_process does. */
export type Launch = (
  command: string,
  args: readonly string[],
  options: SpawnOptions,
) => ChildProcess;

/** One engine process after the other, and what is known of the present one. */
export class EngineLink {
  /** Levels of the newest sections that came on time. */
  readonly levels: Uint8Array;
  /**
   * When the last frame was whole, all its sections on time, monotonic seconds; undefined until the present
   * engine's first. An engine whose later sections always come too late is as late as one that sends none.
   */
  lastFrameS: number | undefined;
  startedS = 0;
  /** Index of the cue that the newest of them names; undefined before the first, and in a show without cues. */
  cue: number | undefined;
  lateFrames = 0;
  /** A position that came with the newest frame. */
  readonly position: PositionTimes = {
    stampS: Number.NaN,
    arrivalS: 0,
    tickS: 0,
    handedS: 0,
    receivedS: 0,
  };
  /** Fixtures that the engine has at their safe values, where those are the desk's. */
  resting: ReadonlySet<number> = new Set();
  /** Fixtures that a loss takes to their safe values in the newest frame. */
  falling: ReadonlySet<number> = new Set();
  /** 1 for each section that has arrived with the present bytes and is still to be reported. */
  readonly #fresh: Uint8Array;
  #anyFresh = false;
  /** Number of the present frame, and how many of its sections have arrived on time. */
  #sequence: number | undefined;
  #onTime = 0;
  /** What came with them after the first: light goes before news. */
  #news: [type: NewsType, value: unknown][] = [];
  #child: ChildProcess | undefined;
  #fault: string | undefined;
  #fatal: string | undefined;
  /** Of what it is to read before all else: its show. */
  #firstBytes = 0;
  #tethered = mayTether();

  constructor(
    private orders: EngineOrders,
    initialLevels: Uint8Array,
    private readonly sections: readonly Section[],
    private readonly hooks: LinkHooks,
    private readonly launch: Launch = spawn,
  ) {
    this.levels = Uint8Array.from(initialLevels);
    this.#fresh = new Uint8Array(sections.length);
  }

  get pid(): number | undefined {
    return this.#child?.pid;
  }

  /**
   * Never throws: if the system has no process or descriptor left, `ended` is called.
   * @param restored what the new engine is to carry out before its first tick; 'later': with `go`, once the ports
   *   are free
   * @param heldInputs see `Begin`
   */
  start(restored: FirstOrders['restored'] = [], heldInputs: Begin['heldInputs'] = []): void {
    this.#fault = undefined;
    this.#fatal = undefined;
    this.lastFrameS = undefined;
    this.cue = undefined;
    this.resting = new Set();
    this.falling = new Set();
    this.#sequence = undefined;
    this.startedS = monotonicS();
    let child: ChildProcess;
    this.hooks.starts?.();
    try {
      child = this.#spawn();
    } catch (error) {
      this.hooks.ended(`it could not be started: ${startFault(error)}`, undefined, false);
      return;
    }
    this.#child = child;
    child.on('error', error => {
      if (isNoTether(error)) this.#untether();
      this.#ended(child, `it could not be started: ${startFault(error)}`);
    });
    // Not 'exit': what it said last, a taken port for one, may still be in the pipe then.
    child.once('close', (code, signal) => {
      this.#ended(
        child,
        signal === null ? `it ended with code ${code}` : `it was ended by ${signal}`,
        signal === null || !FROM_OUTSIDE.has(signal),
      );
    });
    // With no descriptor left Node makes no pipes at all, whatever its types say; 'error' tells of it.
    const stdio = (child.stdio as typeof child.stdio | undefined) ?? [];
    const [stdin, , stderr] = stdio;
    const pipe = stdio[ENGINE_PIPE_FD];
    // An engine that dies in mid-write resets its pipes; its exit is what counts.
    for (const stream of [pipe, stdin, stderr]) stream?.on('error', () => undefined);
    const reader = this.#reader();
    pipe?.on('data', (chunk: Buffer) => {
      const fault = this.#take(reader, chunk);
      if (fault !== undefined && this.#fault === undefined) {
        this.#fault = `it sent ${fault}`;
        this.kill();
      }
    });
    if (stderr) {
      createInterface({ input: stderr as Readable }).on('line', line => {
        if (isTethersWord(line)) this.#untether();
        if (line.trim() !== '') this.hooks.said(line);
      });
    }
    const orders: FirstOrders = { ...this.orders, restored, heldInputs };
    const first = `${JSON.stringify(orders)}\n`;
    this.#firstBytes = Buffer.byteLength(first);
    child.stdin?.write(first);
  }

  /** A prepared one begins. @returns whether there is one */
  go(begin: Begin): boolean {
    this.startedS = monotonicS();
    return this.#say({ go: begin });
  }

  /** @returns what is wrong with it: whatever an engine sends, it is the engine that is ended for it */
  #take(reader: PipeReader, chunk: Buffer): string | undefined {
    try {
      const fault = reader.push(chunk);
      this.#tellSections();
      return fault;
    } catch (error) {
      return `what can't be used: ${messageOf(error)}`;
    }
  }

  #spawn(): ChildProcess {
    const entry = process.argv[1];
    if (entry === undefined) throw new Error('started without a script');
    const options = nodeOptions(process.execArgv, process.allowedNodeEnvironmentFlags);
    const node = [...options, entry, 'engine'];
    const [command = '', ...args] = [...(this.#tethered ? TETHER : []), process.execPath, ...node];
    return this.launch(command, args, {
      stdio: ['pipe', 'ignore', 'pipe', 'pipe'],
      env: withoutService(process.env),
      // A session of its own: what a terminal sends when it is closed is not for the engine.
      detached: true,
    });
  }

  #untether(): void {
    if (!this.#tethered) return;
    this.#tethered = false;
    this.hooks.said(
      `${TETHER[0]} (of util-linux) can't be used: an engine that hangs would outlive a supervisor that is killed`,
    );
  }

  /** @returns whether there is an engine that hears it */
  operate(actions: readonly OperatorAction[]): boolean {
    return this.#say({ operator: actions });
  }

  /** @returns whether there is an engine that hears it */
  hearOrders(orders: OrdersOnPipe): boolean {
    return this.#say({ orders });
  }

  #say(orders: LaterOrders): boolean {
    const stdin = this.#hearing();
    stdin?.write(`${JSON.stringify(orders)}\n`);
    return stdin !== undefined;
  }

  /** An engine that hangs reads nothing. One that starts has yet to read its show, which may be large, and hears the rest then. */
  #hearing(): Writable | undefined {
    const stdin = this.#child?.stdin ?? undefined;
    const isFull = (stdin?.writableLength ?? 0) > MOST_UNREAD_BYTES + this.#firstBytes;
    return isFull ? undefined : stdin;
  }

  /** @returns whether there is an engine that hears it */
  tellDesk(universes: readonly DeskLevels[]): boolean {
    const stdin = this.#hearing();
    if (stdin === undefined) return false;
    const desk = universes.map(
      ({ input, heard, levels, from = '', silent = false }): DeskOnPipe => {
        return [input, heard, Buffer.from(levels).toString('base64'), from, silent];
      },
    );
    stdin.write(`${JSON.stringify({ desk } satisfies LaterOrders)}\n`);
    return true;
  }

  /**
   * Has the engine go on with another show, of the same patch; `tookOver` is told when it does.
   * @returns whether there is one that hears it
   */
  takeShow(next: ShowOnPipe): boolean {
    const stdin = this.#child?.stdin;
    if (stdin === null || stdin === undefined || this.lastFrameS === undefined) return false;
    stdin.write(`${JSON.stringify({ show: next } satisfies LaterOrders)}\n`);
    return true;
  }

  /** Has the engine drop that show; `keptShow` is called when it has, unless it takes over first. */
  keepShow(): void {
    this.#child?.stdin?.write(`${JSON.stringify({ keepShow: true } satisfies LaterOrders)}\n`);
  }

  /** Has it make so many snapshots a second, and the next one too. */
  look(rateHz: number): void {
    if (rateHz === this.orders.snapshotHz) return;
    this.orders = { ...this.orders, snapshotHz: rateHz };
    const stdin = this.#child?.stdin;
    if (stdin && stdin.writableLength <= MOST_UNREAD_BYTES) {
      stdin.write(`${JSON.stringify({ snapshotHz: rateHz } satisfies LaterOrders)}\n`);
    }
  }

  /** What the next engine is told at its start. */
  startWith({ text, file, packed }: ShowOnPipe): void {
    this.orders = { ...this.orders, text, file, packed };
  }

  kill(): void {
    if (this.#child !== undefined) killNow(this.#child);
  }

  /** Ends the engine for good: it goes when its standard input closes, or is made to go. */
  async end(): Promise<void> {
    const child = this.#child;
    if (child === undefined) return;
    const gone = new Promise<void>(resolve => {
      child.once('exit', () => resolve());
      child.once('error', () => resolve());
    });
    child.stdin?.end();
    const timer = setTimeout(() => killNow(child), ENDS_WITHIN_MS);
    // One that waits for a disk or a driver can't even be killed; nobody waits for it here.
    await Promise.race([gone, sleep(GIVEN_UP_AFTER_MS, undefined, { ref: false })]);
    clearTimeout(timer);
    this.#ended(child, 'it was ended');
  }

  #ended(child: ChildProcess, how: string, failed = false): void {
    if (this.#child !== child) return;
    this.#child = undefined;
    this.hooks.ended(this.#fault ?? how, this.#fatal, failed || this.#fault !== undefined);
  }

  /**
   * Of frames that come at once only the newest counts: after a stall of this process two may be in the pipe, and
   * there is time to send one.
   */
  #tellSections(): void {
    if (!this.#anyFresh) return;
    this.#anyFresh = false;
    for (let section = 0; section < this.#fresh.length; section++) {
      if (this.#fresh[section] === 0) continue;
      this.#fresh[section] = 0;
      this.hooks.section(section);
    }
    const news = this.#news;
    this.#news = [];
    for (const [type, value] of news) this.#tell(type, value);
  }

  #tell(type: NewsType, value: unknown): void {
    switch (type) {
      case 'prepared':
        this.hooks.prepared();
        return;
      case 'took over':
        this.hooks.tookOver();
        return;
      case 'kept show':
        this.hooks.keptShow();
        return;
      case 'hello':
        this.hooks.started((value as { pid: number }).pid);
        return;
      case 'resting':
        this.resting = new Set(value as readonly number[]);
        return;
      case 'falling':
        this.falling = new Set(value as readonly number[]);
        return;
      case 'events':
        this.hooks.events(value as EngineNews[]);
        return;
      case 'counters':
        this.hooks.counters(value as EngineCounters);
        return;
      case 'snapshot':
        this.hooks.snapshot(value as string);
        return;
      case 'positions':
        this.hooks.positions(value as PositionRound[]);
        return;
      case 'fatal':
        this.#fatal = (value as { message: string }).message;
        return;
      default:
        unreachable(type);
    }
  }

  #reader(): PipeReader {
    const counts = this.sections.map(({ runs }) => runs.count);
    return new PipeReader(counts, {
      section: (index, sequence, tickS, deadlineS, packed, cue, position) => {
        const section = this.sections[index];
        if (section === undefined) return;
        const nowS = monotonicS();
        if (nowS > deadlineS) {
          this.lateFrames += 1;
          return;
        }
        unpackSlots(section.runs, packed, this.levels);
        this.cue = cue;
        if (sequence !== this.#sequence) this.#onTime = 0;
        this.#sequence = sequence;
        this.#onTime += 1;
        if (this.#onTime === this.sections.length) this.lastFrameS = nowS;
        this.#fresh[index] = 1;
        this.#anyFresh = true;
        if (index < this.sections.length - 1) return;
        Object.assign(this.position, position);
        this.position.tickS = tickS;
        this.position.receivedS = nowS;
      },
      snapshot: text => {
        if (this.#anyFresh) this.#news.push(['snapshot', text]);
        else this.#tell('snapshot', text);
      },
      json: (type, value) => {
        // What came before it is the old show's, and what comes after it the new one's.
        if (type === 'took over') this.#tellSections();
        // It is of the frame after it, and of what has come at once only the newest counts.
        if (this.#anyFresh && type !== 'falling') this.#news.push([type, value]);
        else this.#tell(type, value);
      },
    });
  }
}

/** @param known the options that this Node knows */
export function nodeOptions(
  inherited: readonly string[],
  known: { has(option: string): boolean },
): readonly string[] {
  const more = known.has(NO_DEBUGGER) ? [NO_DEBUGGER] : [];
  return [...inherited, ...more, ROOM_FOR_THE_YOUNG, MOST_HEAP, MAY_COLLECT];
}

function killNow(child: ChildProcess): void {
  try {
    child.kill('SIGKILL');
  } catch {
    // It is no longer ours to kill; a hang is noticed again in the next beat.
  }
}
