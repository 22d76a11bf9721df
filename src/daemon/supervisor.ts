import { createHash } from 'node:crypto';
import { hostname } from 'node:os';
import type { Snapshot } from '../engine/snapshot.js';
import { supervisorCondition } from '../safety/engine-health.js';
import {
  createFallback,
  type Fallback,
  type FallbackPhase,
  type FallbackPlan,
  stepFallback,
  timeToSafeS,
} from '../safety/fallback.js';
import { createLeaving, type Leaving, stepLeaving } from '../safety/leaving.js';
import { isFullySafe } from '../safety/retreat.js';
import type { SupervisorCondition } from '../safety/watchdog-table.js';
import type { Show } from '../show/model.js';
import { patchedSlots } from '../show/patched-slots.js';
import { fallbackPlan } from '../show/safe-look.js';
import { unreachable } from '../stage/unreachable.js';
import { monotonicS } from './clock.js';
import { type EngineCounters, EngineLink, type EngineNews } from './engine-link.js';
import type { LightingEvent } from './lighting/events.js';
import { LightingOutput } from './lighting/lighting-output.js';
import type { RecordOrders } from './recorder/orders.js';
import { Service } from './service/service.js';

export type SupervisorEvent =
  | {
      readonly kind: 'lights';
      readonly from: FallbackPhase;
      readonly to: FallbackPhase;
      readonly cause: string;
    }
  | { readonly kind: 'engine-started'; readonly pid: number }
  /** `again`: when it is started anew, seconds from now. */
  | { readonly kind: 'engine-ended'; readonly reason: string; readonly again: number }
  | { readonly kind: 'engine-said'; readonly line: string }
  | { readonly kind: 'engine'; readonly event: EngineNews }
  | { readonly kind: 'lighting'; readonly event: LightingEvent }
  /** The service manager can't be told how the daemon is. */
  | { readonly kind: 'service-fault'; readonly reason: string }
  /** The flash limit holds lamps back that were to rise: how many at the first moment. */
  | { readonly kind: 'flashes-held'; readonly fixtures: number }
  | { readonly kind: 'stopping' }
  | { readonly kind: 'stopped' };

export interface SupervisorOptions {
  readonly show: Show;
  /** The text that the show was read from: the engine reads the same, whatever becomes of the file. */
  readonly text: string;
  readonly file: string;
  /** Snapshots a second for somebody who watches; 0 for none. */
  readonly snapshotHz: number;
  readonly traceTicks: boolean;
  /** Where the engine is to record; undefined: nowhere. */
  readonly record?: RecordOrders | undefined;
  onEvent(event: SupervisorEvent): void;
  onCounters(counters: EngineCounters): void;
  onSnapshot(snapshot: Snapshot): void;
}

/** An engine that is silent for so long hangs: it is killed, so that a new one can start. */
const HANGS_AFTER_S = 1;
/** And so long may it take to start. */
const STARTS_WITHIN_S = 10;
const FIRST_RESTART_S = 0.1;
const LONGEST_RESTART_S = 5;
/** An engine that has run for so long is no longer part of a series of crashes. */
const RECOVERED_AFTER_S = 10;
/** How long the clean end may take beyond the fade: the flash limit may hold a lit safe look for a second. */
const STOP_GRACE_S = 1.5;
/** Flashes held back after so long a rest are said anew. */
const FLASHES_APART_S = 10;

/**
 * Holds the lighting sockets and the safe look; starts the engine, and starts it again. It sends at
 * the rate of the outputs whatever the engine does, and is the only one who does.
 */
export class Supervisor {
  readonly #plan: FallbackPlan;
  readonly #fallback: Fallback;
  readonly #leaving: Leaving;
  readonly #out: Uint8Array;
  readonly #link: EngineLink;
  readonly #periodS: number;
  readonly #service: Service | undefined;
  #lighting: LightingOutput | undefined;
  #timer: NodeJS.Timeout | undefined;
  #restartTimer: NodeJS.Timeout | undefined;
  #restartS = FIRST_RESTART_S;
  #lastBeatS = 0;
  #flashesHeldS = Number.NEGATIVE_INFINITY;
  #everRan = false;
  #stopping: { untilS: number; done: () => void } | undefined;
  #failStart: ((message: string) => void) | undefined;
  #finished = false;

  constructor(private readonly options: SupervisorOptions) {
    const { show } = options;
    this.#plan = fallbackPlan(show);
    this.#fallback = createFallback(this.#plan);
    this.#out = Uint8Array.from(this.#plan.safeLook);
    const channels = this.#plan.fixtures.flatMap(fixture => fixture.channels);
    this.#leaving = createLeaving(channels, this.#out, show.limits);
    const tickHz = tickHzOf(show);
    this.#periodS = 1 / tickHz;
    this.#service = Service.of({
      env: process.env,
      pid: process.pid,
      beatS: this.#periodS,
      onFailure: reason => options.onEvent({ kind: 'service-fault', reason }),
    });
    const { text, file, snapshotHz, traceTicks, record } = options;
    const orders = { text, file, tickHz, snapshotHz, traceTicks, record };
    this.#link = new EngineLink(orders, this.#out, patchedSlots(show), {
      frame: () => this.#beat(),
      events: events => {
        for (const event of events) options.onEvent({ kind: 'engine', event });
      },
      counters: counters => options.onCounters(counters),
      snapshot: snapshot => options.onSnapshot(snapshot),
      started: pid => {
        this.#everRan = true;
        options.onEvent({ kind: 'engine-started', pid });
      },
      said: line => options.onEvent({ kind: 'engine-said', line }),
      ended: (reason, fatal) => this.#engineEnded(reason, fatal),
    });
  }

  /** Levels of all universes as last sent; a view. */
  get levels(): Uint8Array {
    return this.#out;
  }

  get phase(): FallbackPhase {
    return this.#fallback.phase;
  }

  get enginePid(): number | undefined {
    return this.#link.pid;
  }

  get lighting(): LightingOutput | undefined {
    return this.#lighting;
  }

  /**
   * Opens the lighting sockets, sends the safe look, and starts the engine.
   * @param onFailure called if the first engine says that it can't run (a port is taken, say)
   * @returns problems with the outputs, in plain words; empty when all is well
   */
  async start(onFailure: (message: string) => void): Promise<readonly string[]> {
    const { show } = this.options;
    const opened = await LightingOutput.open({
      outputs: show.outputs,
      universeCount: show.universes.length,
      sourceName: `lampwright ${show.name}`,
      partnerName: `lampwright standby ${show.name}`,
      hearsAlways: false,
      cid: sourceIdentity(show.name),
      beatS: this.#periodS,
      onEvent: event => this.options.onEvent({ kind: 'lighting', event }),
      now: monotonicS,
    });
    if (!opened.ok) return opened.problems;
    this.#lighting = opened.output;
    this.#failStart = onFailure;
    this.#lastBeatS = monotonicS();
    this.#beat();
    this.#service?.ready();
    this.#service?.status('the safe look is out; the engine is starting');
    this.#link.start();
    return [];
  }

  /** Fades to the safe look, ends the streams as E1.31 asks, and ends the engine. */
  stop(): Promise<void> {
    if (this.#stopping !== undefined) return Promise.resolve();
    this.options.onEvent({ kind: 'stopping' });
    clearTimeout(this.#restartTimer);
    return new Promise(resolve => {
      const withinS = timeToSafeS(this.#plan) + STOP_GRACE_S;
      const untilS = monotonicS() + withinS;
      this.#service?.stopping(withinS + STOP_GRACE_S);
      this.#stopping = { untilS, done: resolve };
    });
  }

  /** Ends at once, at whatever the lights show: for a second Ctrl-C. */
  async abort(): Promise<void> {
    await this.#finish();
  }

  #beat(): void {
    if (this.#finished) return;
    clearTimeout(this.#timer);
    const nowS = monotonicS();
    const dtS = nowS - this.#lastBeatS;
    this.#lastBeatS = nowS;
    const before = this.#fallback.phase;
    const condition = this.#condition(nowS);
    const well = condition === undefined;
    if (stepFallback(this.#fallback, this.#plan, this.#link.levels, well, dtS, this.#out)) {
      const cause = this.#cause(nowS, condition);
      this.options.onEvent({ kind: 'lights', from: before, to: this.#fallback.phase, cause });
      if (this.#stopping === undefined) {
        this.#service?.status(`lights ${this.#fallback.phase}: ${cause}`);
      }
    }
    stepLeaving(this.#leaving, this.#out, dtS, nowS);
    this.#sayFlashes(nowS);
    this.#lighting?.send(this.#out, nowS);
    this.#service?.beat(nowS, dtS, () => this.#lighting?.hasSent() === true);
    this.#checkEngine(nowS, well);
    const stopping = this.#stopping;
    if (stopping !== undefined) {
      const { slowed, flash } = this.#leaving;
      const settled =
        this.#fallback.retreats.every(isFullySafe) && slowed === 0 && flash.held === 0;
      if (settled || nowS >= stopping.untilS) {
        void this.#finish().then(stopping.done);
        return;
      }
    }
    // A frame comes a period after the last one; only when it is late does the beat go on without.
    const waitS = this.#periodS * (well ? 1.5 : 1);
    this.#timer = setTimeout(() => this.#beat(), waitS * 1e3);
  }

  /** Once at the start of each series of flashes that are held back, not once a beat. */
  #sayFlashes(nowS: number): void {
    const { held } = this.#leaving.flash;
    if (held === 0) return;
    if (nowS - this.#flashesHeldS > FLASHES_APART_S) {
      this.options.onEvent({ kind: 'flashes-held', fixtures: held });
    }
    this.#flashesHeldS = nowS;
  }

  #condition(nowS: number): SupervisorCondition | undefined {
    const { lastFrameS, pid } = this.#link;
    const health = {
      stopping: this.#stopping !== undefined,
      running: pid !== undefined,
      frameAgeS: lastFrameS === undefined ? undefined : nowS - lastFrameS,
    };
    return supervisorCondition(health, this.options.show.watchdog.engineSilent.afterS);
  }

  /** Kills an engine that hangs; forgives old crashes of one that runs. */
  #checkEngine(nowS: number, well: boolean): void {
    const { lastFrameS, startedS, pid } = this.#link;
    if (pid === undefined) return;
    if (well) {
      if (nowS - startedS > RECOVERED_AFTER_S) this.#restartS = FIRST_RESTART_S;
      return;
    }
    const silentS = lastFrameS === undefined ? nowS - startedS : nowS - lastFrameS;
    const allowedS =
      lastFrameS === undefined
        ? STARTS_WITHIN_S
        : Math.max(HANGS_AFTER_S, this.options.show.watchdog.engineSilent.afterS);
    if (silentS > allowedS) this.#link.kill();
  }

  #cause(nowS: number, condition: SupervisorCondition | undefined): string {
    const { lastFrameS } = this.#link;
    switch (condition) {
      case undefined:
        return 'the engine is well';
      case 'shutdown':
        return 'shutdown: stopping';
      case 'engine-dead':
        return 'engine-dead: the engine is gone';
      case 'engine-late':
        return lastFrameS === undefined
          ? 'engine-late: the engine is starting'
          : `engine-late: no frame on time for ${(nowS - lastFrameS).toFixed(2)} s`;
      default:
        return unreachable(condition);
    }
  }

  #engineEnded(reason: string, fatal: string | undefined): void {
    const why = fatal ?? reason;
    if (this.#stopping !== undefined) return;
    if (!this.#everRan && fatal !== undefined && this.#failStart !== undefined) {
      this.#failStart(fatal);
      return;
    }
    const waitS = this.#restartS;
    this.#restartS = Math.min(LONGEST_RESTART_S, waitS * 2);
    this.options.onEvent({ kind: 'engine-ended', reason: why, again: waitS });
    this.#restartTimer = setTimeout(() => this.#link.start(), waitS * 1e3);
  }

  async #finish(): Promise<void> {
    if (this.#finished) return;
    this.#finished = true;
    clearTimeout(this.#timer);
    clearTimeout(this.#restartTimer);
    this.#stopping ??= { untilS: 0, done: () => undefined };
    const lighting = this.#lighting;
    this.#lighting = undefined;
    await lighting?.terminate();
    await lighting?.close();
    await this.#link.end();
    this.options.onEvent({ kind: 'stopped' });
  }
}

/** The engine ticks as often as the fastest output sends. */
export function tickHzOf(show: Show): number {
  return Math.max(...show.outputs.map(output => output.rateHz));
}

/** The CID of E1.31 5.6: the same for a show on a machine whenever it runs, and another elsewhere. */
export function sourceIdentity(showName: string): Uint8Array {
  const digest = createHash('sha256').update(`lampwright\0${hostname()}\0${showName}`).digest();
  const cid = Uint8Array.from(digest.subarray(0, 16));
  // A UUID of version 8 (made by its own rule) and of the variant of RFC 9562.
  cid[6] = ((cid[6] ?? 0) & 0x0f) | 0x80;
  cid[8] = ((cid[8] ?? 0) & 0x3f) | 0x80;
  return cid;
}
