import type { PositionRound } from '../../engine/positions-out.js';
import type { DeskLevels } from '../../engine/values/inputs.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { PositionTimes } from '../../live/light-delays.js';
import { supervisorCondition } from '../../safety/engine-health.js';
import type { SupervisorCondition } from '../../safety/watchdog-table.js';
import type { Show } from '../../show/model/model.js';
import type { Section } from '../../show/model/sections.js';
import { unreachable } from '../../stage/unreachable.js';
import { monotonicS } from '../machine/clock.js';
import { type EngineCounters, EngineLink, type EngineNews } from './engine-link.js';
import type { EngineOrders, OrdersOnPipe } from './engine-orders.js';
import { Lateness, type LatenessEvent } from './lateness.js';
import { packedText } from './packed-show.js';

export type EngineRunnerEvent =
  | { readonly kind: 'engine-started'; readonly pid: number }
  /** `again`: when it is started anew, seconds from now. */
  | {
      readonly kind: 'engine-ended';
      readonly reason: string;
      readonly again: number;
      /** It ended by itself, was killed as it hung, grew or started too slowly, or never came so far as to run. */
      readonly how: 'crashed' | 'hung' | 'grew' | 'slow to start' | 'did not start';
    }
  | { readonly kind: 'engine-said'; readonly line: string }
  | { readonly kind: 'engine'; readonly event: EngineNews }
  /** Its memory has grown beyond all that a show needs: it is started anew, by way of the safe look. */
  | { readonly kind: 'engine-too-large'; readonly rssMiB: number; readonly limitMiB: number }
  | LatenessEvent;

export interface EngineRunnerOptions {
  readonly show: Show;
  readonly sections: readonly Section[];
  readonly orders: EngineOrders;
  /** Levels until the first frame: the safe look. */
  readonly levels: Uint8Array;
  /** What a new engine is to carry out first. */
  restored(): readonly OperatorAction[];
  /** See `Begin`; as it is when an engine is about to open the others. */
  heldInputs(): readonly number[];
  /** See `SupervisorOptions`. */
  readonly onEngineStarts?: (() => void) | undefined;
  /** A section of a frame has come on time. */
  onSection(section: number): void;
  onEvent(event: EngineRunnerEvent): void;
  onCounters(counters: EngineCounters): void;
  onSnapshot(text: string): void;
  onPositions(rounds: readonly PositionRound[]): void;
  /**
   * The first engine says that it can't run (a port is taken, say).
   * @returns whether to give it up; else it is started again like any other
   */
  onCannotRun(message: string): boolean;
}

/** An engine that is silent for so long hangs: it is killed, so that a new one can start. */
const HANGS_AFTER_S = 1;
/** How long it may take until it first says something, and then again until its first frame. */
const STARTS_WITHIN_S = 10;
/** Time for the next one after one was killed while starting: a slow machine is no faster the second time. */
const LONGEST_START_S = 40;
/** And so long to go on with another show: a large house needs half a second. */
const TAKES_OVER_WITHIN_S = 10;
const TOO_BUSY = `it was too busy to take it within ${TAKES_OVER_WITHIN_S} s; the show goes on as it was`;
const TOO_SLOW = `it was not ready within ${STARTS_WITHIN_S} s`;
const FIRST_RESTART_S = 0.1;
const LONGEST_RESTART_S = 5;
/** An engine that has run this long is no longer part of a series of crashes. */
const RECOVERED_AFTER_S = 10;
/** That of a large house needs 112 MiB (docs/reference/performance.md). */
export const MOST_RSS_MIB = 768;
const MIB = 1024 * 1024;

/** A show that the engine is to go on with, as it was read. */
export interface ShowToTake {
  readonly show: Show;
  readonly text: string;
  readonly file: string;
  /** See `packShow`. */
  readonly packed: readonly Uint8Array[];
}

const SAFE_LOOK_HELD = { kind: 'safe-look', held: true, cause: 'command' } as const;

type KilledAs = 'hung' | 'grew' | 'slow to start';

/** Starts the engine, starts it again when it ends, ends it when it hangs or grows. */
export class EngineRunner {
  readonly #link: EngineLink;
  #restartTimer: NodeJS.Timeout | undefined;
  #restartS = FIRST_RESTART_S;
  #everRan = false;
  #runs = false;
  #neverRanAs: string | undefined;
  #ending = false;
  /** Its first engine can't run: another show takes its place. */
  #givenUp = false;
  /** Why it was killed from here. */
  #killed: { readonly how: KilledAs; readonly reason: string } | undefined;
  /** When the present one said that it runs; undefined until then. */
  #saidHelloS: number | undefined;
  #startsWithinS = STARTS_WITHIN_S;
  readonly #lateness = new Lateness();
  /** Of the last beat, monotonic seconds. */
  #tendedS = Number.POSITIVE_INFINITY;
  /** Who waits for it to be prepared: told why it can't be, or undefined. */
  #preparing: ((fault: string | undefined) => void) | undefined;
  #isPrepared = false;
  #refusesShow = false;
  /** From `prepare` to `start`: one that ends is not started again. */
  #waits = false;
  #triesLeft = 0;
  /** The engine has been told that all light is at the safe look; so has each new one, first of all. */
  #safeLookTold = true;

  /** Who waits for it to go on with another show. */
  #taking: ((fault: string | undefined) => void) | undefined;
  #show: Show;

  constructor(private readonly options: EngineRunnerOptions) {
    this.#show = options.show;
    const { sections, orders, levels, onEvent } = options;
    this.#link = new EngineLink(orders, levels, sections, {
      starts: () => options.onEngineStarts?.(),
      section: options.onSection,
      events: events => {
        for (const event of events) {
          if (event.kind === 'stalled') this.#lateness.note('engine-stood-still', monotonicS());
          onEvent({ kind: 'engine', event });
        }
      },
      counters: counters => this.#count(counters),
      snapshot: options.onSnapshot,
      positions: options.onPositions,
      prepared: () => this.#nowPrepared(undefined),
      tookOver: () => this.#nowTaken(undefined),
      keptShow: () => this.#nowTaken(TOO_BUSY),
      started: pid => {
        this.#everRan = true;
        this.#runs = true;
        this.#saidHelloS = monotonicS();
        this.#neverRanAs = undefined;
        onEvent({ kind: 'engine-started', pid });
      },
      said: line => onEvent({ kind: 'engine-said', line }),
      ended: (reason, fatal, failed) => this.#ended(reason, fatal, failed),
    });
  }

  /** Levels of the newest sections that came on time. */
  get levels(): Uint8Array {
    return this.#link.levels;
  }

  /** A position that came with the newest frame. */
  get position(): Readonly<PositionTimes> {
    return this.#link.position;
  }

  /** Index of the cue that the newest of them names; undefined while the present engine has sent none. */
  get cue(): number | undefined {
    return this.#link.cue;
  }

  get pid(): number | undefined {
    return this.#link.pid;
  }

  /** Why no engine of this show has run yet; undefined once one has, and while the first one starts. */
  get neverRanAs(): string | undefined {
    return this.#neverRanAs;
  }

  /**
   * What is wrong with the engine as the watchdog sees it; undefined while it is well.
   * @param silentAfterS so old may its newest levels be
   */
  condition(
    stopping: boolean,
    silentAfterS: number,
    nowS: number,
  ): SupervisorCondition | undefined {
    const { lastFrameS, pid } = this.#link;
    const frameAgeS = lastFrameS === undefined ? undefined : nowS - lastFrameS;
    return supervisorCondition({ stopping, running: pid !== undefined, frameAgeS }, silentAfterS);
  }

  /** Of a change of the lights, in plain words. */
  causeOf(condition: SupervisorCondition | undefined, nowS: number): string {
    const { lastFrameS } = this.#link;
    switch (condition) {
      case undefined:
        return 'the engine is well';
      case 'shutdown':
        return 'stopping';
      case 'engine-dead':
        return this.#everRan ? 'the engine is gone' : 'the engine is starting';
      case 'engine-late':
        return lastFrameS === undefined
          ? 'the engine is starting'
          : `the engine is late: no frame on time for ${(nowS - lastFrameS).toFixed(2)} s`;
      default:
        return unreachable(condition);
    }
  }

  /** The result of `prepare` or `takeShow` was caused by the show, not by the machine or by stopping. */
  get refusesShow(): boolean {
    return this.#refusesShow;
  }

  /**
   * Starts it as far as possible while another engine runs and has the ports; `start` does the rest, or everything if
   * this failed.
   * @returns why it can't be; undefined when it waits
   */
  prepare(): Promise<string | undefined> {
    this.#waits = true;
    this.#triesLeft = 2;
    return new Promise(resolve => {
      const timer = setTimeout(() => this.#nowPrepared(TOO_SLOW), STARTS_WITHIN_S * 1e3);
      this.#preparing = fault => {
        clearTimeout(timer);
        this.#isPrepared = fault === undefined;
        if (fault !== undefined) this.#link.kill();
        resolve(fault);
      };
      this.#link.start('later');
    });
  }

  start(): void {
    this.#lateness.begin(monotonicS());
    this.#runs = false;
    this.#saidHelloS = undefined;
    this.#killed = undefined;
    const isPrepared = this.#isPrepared;
    this.#isPrepared = false;
    this.#waits = false;
    this.#safeLookTold = true;
    const restored = [SAFE_LOOK_HELD, ...this.options.restored()];
    const heldInputs = this.options.heldInputs();
    if (isPrepared && this.#link.go({ restored, heldInputs })) return;
    this.#link.start(restored, heldInputs);
  }

  /** It was given up, and there is nothing better than to try again. */
  retry(): void {
    if (!this.#givenUp || this.#ending) return;
    this.#givenUp = false;
    this.#startLater(this.#neverRanAs ?? 'it could not run');
  }

  /** @returns whether there is an engine to do it */
  operate(actions: readonly OperatorAction[]): boolean {
    return this.#link.operate(actions);
  }

  /** What the supervisor's inputs have heard. @returns whether there is an engine that hears it */
  hearOrders(orders: OrdersOnPipe): boolean {
    return this.#link.hearOrders(orders);
  }

  /** Tells it, where that is new, whether all light is at the safe look or on the way: no enable counts until it isn't. */
  tellSafeLook(held: boolean): void {
    if (held === this.#safeLookTold) return;
    if (this.operate([{ ...SAFE_LOOK_HELD, held }])) this.#safeLookTold = held;
  }

  /** Has the engine make so many snapshots a second. */
  look(rateHz: number): void {
    this.#link.look(rateHz);
  }

  /** When the last frame came that was on time, monotonic seconds. */
  get frameS(): number | undefined {
    return this.#link.lastFrameS;
  }

  /** @returns whether there is an engine that hears it */
  tellDesk(universes: readonly DeskLevels[]): boolean {
    return this.#link.tellDesk(universes);
  }

  /** Whether it has a fixture at its safe values, where those are the desk's. */
  rests(fixture: number): boolean {
    return this.#link.resting.has(fixture);
  }

  /** Whether a loss takes a fixture to its safe values, in the newest frame. */
  falls(fixture: number): boolean {
    return this.#link.falling.has(fixture);
  }

  /** Once a beat: kills an engine that hangs; forgives old crashes of one that runs. */
  tend(nowS: number, well: boolean): void {
    this.#noteStall(nowS);
    this.#tendedS = nowS;
    const { lastFrameS, startedS, pid } = this.#link;
    if (pid === undefined) return;
    if (well) {
      if (nowS - startedS <= RECOVERED_AFTER_S) return;
      this.#restartS = FIRST_RESTART_S;
      this.#startsWithinS = STARTS_WITHIN_S;
      return;
    }
    if (lastFrameS === undefined) {
      this.#tendStart(nowS, startedS);
      return;
    }
    const silentS = nowS - lastFrameS;
    if (silentS <= Math.max(HANGS_AFTER_S, this.#show.watchdog.engineSilent.afterS)) return;
    this.#kill('hung', `no frame came for ${silentS.toFixed(1)} s, so it was killed`);
  }

  /** An engine that has said that it runs doesn't hang, so its time counts from there again. */
  #tendStart(nowS: number, startedS: number): void {
    const silentS = nowS - (this.#saidHelloS ?? startedS);
    if (silentS <= this.#startsWithinS || this.#killed !== undefined) return;
    const what = this.#saidHelloS === undefined ? 'it sent nothing' : 'it ran, but sent no frame';
    this.#startsWithinS = Math.min(LONGEST_START_S, this.#startsWithinS * 2);
    this.#kill('slow to start', `${what} for ${silentS.toFixed(1)} s, so it was killed`);
  }

  /**
   * Has the engine that runs go on with another show of the same patch.
   * @param tookOver called with its first news, before any frame of the new show
   * @returns why not; undefined when it does
   */
  takeShow(next: ShowToTake, tookOver: () => void): Promise<string | undefined> {
    const { text, file } = next;
    const onPipe = { text, file, packed: packedText(next.packed) };
    this.#refusesShow = false;
    return new Promise<string | undefined>(resolve => {
      // The engine that runs has the light: it goes on, and says which show it has.
      const timer = setTimeout(() => this.#link.keepShow(), TAKES_OVER_WITHIN_S * 1e3);
      this.#taking = fault => {
        clearTimeout(timer);
        if (fault === undefined) {
          this.#show = next.show;
          this.#link.startWith(onPipe);
          tookOver();
        }
        resolve(fault);
      };
      if (!this.#link.takeShow(onPipe)) this.#nowTaken('no engine is running');
    });
  }

  #nowTaken(fault: string | undefined): void {
    const done = this.#taking;
    this.#taking = undefined;
    done?.(fault);
  }

  #nowPrepared(fault: string | undefined): void {
    const done = this.#preparing;
    this.#preparing = undefined;
    done?.(fault);
  }

  /** Ends it for good. */
  async end(): Promise<void> {
    this.letGo();
    await this.#link.end();
  }

  /** From now on it is not started again. */
  letGo(): void {
    this.#ending = true;
    clearTimeout(this.#restartTimer);
    this.#nowPrepared('it was ended');
    this.#nowTaken('it was ended');
  }

  #count(counters: EngineCounters): void {
    this.options.onCounters(counters);
    const rssMiB = counters.rss / MIB;
    if (rssMiB > MOST_RSS_MIB) {
      const event = { rssMiB: Math.round(rssMiB), limitMiB: MOST_RSS_MIB };
      this.options.onEvent({ kind: 'engine-too-large', ...event });
      this.#kill('grew', `it used ${event.rssMiB} MiB of memory, so it was killed`);
    }
    const nowS = monotonicS();
    // What waited in the pipe while this process stood still may be read before the next beat.
    this.#noteStall(nowS);
    const late = this.#lateness.take(counters, this.#link.lateFrames, nowS);
    for (const event of late) this.options.onEvent(event);
  }

  /** See `BeatClock`. */
  #noteStall(nowS: number): void {
    const { outputs, watchdog } = this.#show;
    const beatsHz = Math.max(1, ...outputs.map(({ rateHz }) => rateHz));
    if (nowS - this.#tendedS <= Math.max(watchdog.engineSilent.afterS, 4 / beatsHz)) return;
    this.#lateness.note('daemon-stood-still', nowS);
  }

  #kill(how: KilledAs, reason: string): void {
    this.#killed ??= { how, reason };
    this.#link.kill();
  }

  #ended(reason: string, fatal: string | undefined, failed: boolean): void {
    if (this.#taking !== undefined) this.#refusesShow = fatal !== undefined || failed;
    this.#nowTaken(fatal ?? reason);
    if (this.#ending) return;
    if (this.#waits) {
      this.#isPrepared = false;
      // Once more: without setpriv where there is none, or with what was short for a moment.
      this.#triesLeft -= 1;
      if (this.#preparing !== undefined && this.#triesLeft > 0) this.#link.start('later');
      else {
        this.#refusesShow = fatal !== undefined;
        this.#nowPrepared(fatal ?? reason);
      }
      return;
    }
    if (!this.#everRan) this.#neverRanAs = fatal ?? reason;
    if (!this.#everRan && fatal !== undefined && this.options.onCannotRun(fatal)) {
      this.#givenUp = true;
      return;
    }
    this.#startLater(fatal ?? reason);
  }

  #startLater(reason: string): void {
    const waitS = this.#restartS;
    this.#restartS = Math.min(LONGEST_RESTART_S, waitS * 2);
    const { how, reason: why } = this.#killed ?? {
      how: this.#runs ? 'crashed' : 'did not start',
      reason,
    };
    this.options.onEvent({ kind: 'engine-ended', how, reason: why, again: waitS });
    this.#restartTimer = setTimeout(() => this.start(), waitS * 1e3);
  }
}
