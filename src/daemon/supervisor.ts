import type { OperatorAction } from '../engine/operator.js';
import { supervisorCondition } from '../safety/engine-health.js';
import { type FallbackPhase, stepFallback, timeToSafeS } from '../safety/fallback.js';
import { stepLeaving } from '../safety/leaving.js';
import { isFullySafe } from '../safety/retreat.js';
import type { SupervisorCondition } from '../safety/watchdog-table.js';
import type { Show } from '../show/model.js';
import { unreachable } from '../stage/unreachable.js';
import { monotonicS } from './clock.js';
import { EngineKeeper, type KeeperEvent } from './engine-keeper.js';
import { sourceIdentity, sourceNameOf } from './identity.js';
import { LastLook } from './last-look.js';
import { LightingOutput } from './lighting/lighting-output.js';
import { OperatorMemory, type OperatorState, readOperatorState } from './operator/memory.js';
import { StateStore } from './operator/store.js';
import { Pair } from './pair.js';
import { Service } from './service/service.js';
import {
  beginBlend,
  createShowLevels,
  isAlike,
  type OtherLight,
  type ShowLevels,
  stepBlend,
  takeOverLevels,
} from './show-levels.js';
import type { ReadShow, SupervisorOptions } from './supervisor-options.js';

export type { SupervisorEvent } from './supervisor-options.js';

/** How long the clean end may take beyond the fade: the flash limit may hold a lit safe look for a second. */
const STOP_GRACE_S = 1.5;
/** Flashes held back after so long a rest are said anew. */
const FLASHES_APART_S = 10;

/**
 * Holds the lighting sockets and the safe look; starts the engine, and starts it again. It sends at
 * the rate of the outputs whatever the engine does, and is the only one who does.
 */
export class Supervisor {
  #read: ReadShow;
  #levels: ShowLevels;
  #keeper: EngineKeeper;
  #memory: OperatorMemory;
  #store: StateStore<OperatorState> | undefined;
  #periodS: number;
  readonly #service: Service | undefined;
  #lighting: LightingOutput | undefined;
  #lastLook: LastLook | undefined;
  #pair: Pair | undefined;
  #timer: NodeJS.Timeout | undefined;
  #lastBeatS = 0;
  #flashesHeldS = Number.NEGATIVE_INFINITY;
  #stopping: { untilS: number; done: () => void } | undefined;
  #reloading = false;
  #failStart: ((message: string) => void) | undefined;
  #finished = false;

  constructor(private readonly options: SupervisorOptions) {
    const { show, text, file } = options;
    this.#read = { show, text, file };
    this.#levels = createShowLevels(show);
    this.#periodS = 1 / tickHzOf(show);
    this.#service = Service.of({
      env: process.env,
      pid: process.pid,
      beatS: this.#periodS,
      onFailure: reason => options.onEvent({ kind: 'service-fault', reason }),
    });
    this.#store = this.#storeOf(show);
    this.#memory = new OperatorMemory(show, undefined);
    this.#keeper = this.#keeperOf(this.#read);
  }

  /** Levels of all universes as last sent; a view. */
  get levels(): Uint8Array {
    return this.#levels.out;
  }

  get phase(): FallbackPhase {
    return this.#levels.fallback.phase;
  }

  /** In one line. */
  get status(): string {
    const { show } = this.#read;
    const engine = this.enginePid === undefined ? 'no engine' : `engine ${this.enginePid}`;
    return `show "${show.name}": lights ${this.phase}, ${engine}`;
  }

  get enginePid(): number | undefined {
    return this.#keeper.pid;
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
    const opened = await this.#openLighting(this.#read.show);
    if (!opened.ok) return opened.problems;
    this.#lighting = opened.output;
    this.#failStart = onFailure;
    this.#lastBeatS = monotonicS();
    const resumes = this.#resume(this.#lastBeatS);
    this.#pair = new Pair({
      standby: this.options.standby === true,
      canHear: opened.output.canHear,
      startS: this.#lastBeatS,
      resumes,
    });
    this.#arrange(this.#pair, opened.output);
    this.#beat();
    this.#service?.ready();
    this.#service?.status('the safe look is out; the engine is starting');
    this.#remember(this.#read.show);
    this.#keeper.start();
    return [];
  }

  /**
   * Has the engine do what a person wants; what becomes of it is told in events.
   * @returns whether there is an engine to do it
   */
  operate(actions: readonly OperatorAction[]): boolean {
    return this.#keeper.operate(actions);
  }

  /**
   * Takes another show, by way of its safe look: what is lit now fades to it, then its engine takes over.
   * If its outputs can't be opened or its engine can't run, the show that was running comes back.
   */
  async reload(next: ReadShow): Promise<void> {
    if (this.#reloading || this.#stopping !== undefined) {
      const problems = ['another reload, or the end, is under way.'];
      this.options.onEvent({ kind: 'reload-refused', problems });
      return;
    }
    this.#reloading = true;
    const before = this.#read;
    const problems = await this.#swap(next);
    if (problems.length > 0) this.options.onEvent({ kind: 'reload-refused', problems });
    else {
      this.options.onEvent({ kind: 'reloaded', show: next.show.name });
      this.#failStart = message => {
        this.options.onEvent({ kind: 'reload-refused', problems: [message] });
        this.#failStart = undefined;
        void this.#swap(before);
      };
    }
    this.#reloading = false;
  }

  /** Fades to the safe look, ends the streams as E1.31 asks, and ends the engine. */
  stop(): Promise<void> {
    if (this.#stopping !== undefined) return Promise.resolve();
    this.options.onEvent({ kind: 'stopping' });
    this.#keeper.letGo();
    return new Promise(resolve => {
      const withinS = timeToSafeS(this.#levels.plan) + STOP_GRACE_S;
      const untilS = monotonicS() + withinS;
      this.#service?.stopping(withinS + STOP_GRACE_S);
      this.#stopping = { untilS, done: resolve };
    });
  }

  /** Ends at once, at whatever the lights show: for a second Ctrl-C. */
  async abort(): Promise<void> {
    await this.#finish();
  }

  #keeperOf({ show, text, file }: ReadShow): EngineKeeper {
    const { snapshotHz, traceTicks, record, onCounters, onSnapshot } = this.options;
    const orders = { text, file, tickHz: tickHzOf(show), snapshotHz, traceTicks, record };
    const keeper: EngineKeeper = new EngineKeeper({
      show,
      orders,
      levels: this.#levels.plan.safeLook,
      restored: () => this.#memory.restored(),
      onFrame: () => {
        if (this.#keeper === keeper) this.#beat();
      },
      onEvent: event => this.#hear(event),
      onCounters,
      onSnapshot,
      onCannotRun: message => this.#cannotRun(message),
    });
    return keeper;
  }

  #hear(event: KeeperEvent): void {
    this.options.onEvent(event);
    if (event.kind === 'engine' && this.#memory.hear(event.event))
      this.#store?.save(this.#memory.state);
  }

  /** A first engine that can't run: the whole start has failed; or the show that was loaded anew has. */
  #cannotRun(message: string): void {
    if (this.#stopping === undefined) this.#failStart?.(message);
  }

  #storeOf(show: Show): StateStore<OperatorState> | undefined {
    const { stateFolder: folder, onEvent } = this.options;
    if (folder === undefined) return undefined;
    return new StateStore({ folder, show: show.name, parse: readOperatorState, onEvent });
  }

  /** What people had changed before the restart; the engine is told when it starts. */
  #remember(show: Show): void {
    const state = this.#store?.load();
    this.#memory = new OperatorMemory(show, state);
    const entries = this.#memory.restored().length;
    if (this.#store === undefined || entries === 0) return;
    this.options.onEvent({ kind: 'state-restored', file: this.#store.file, entries });
  }

  /** Goes on from what a supervisor that has died just now had sent, and keeps what this one sends. */
  #resume(nowS: number): boolean {
    const { runtimeFolder, onEvent } = this.options;
    if (runtimeFolder === undefined) return false;
    const { show, text } = this.#read;
    const count = this.#levels.out.length;
    const out = LastLook.read(runtimeFolder, text, count, nowS);
    if (out !== undefined) {
      this.#levels = takeOverLevels(show, { show, out });
      onEvent({ kind: 'light-resumed' });
    }
    this.#lastLook = LastLook.open(runtimeFolder, text, count);
    return out !== undefined;
  }

  #openLighting(show: Show) {
    const standby = this.options.standby === true;
    return LightingOutput.open({
      outputs: show.outputs,
      universeCount: show.universes.length,
      sourceName: sourceNameOf(show, standby),
      partnerName: sourceNameOf(show, !standby),
      cid: sourceIdentity(show.name, standby),
      beatS: 1 / tickHzOf(show),
      onEvent: event => this.options.onEvent({ kind: 'lighting', event }),
      now: monotonicS,
    });
  }

  /** @returns why not; empty when the other show is out */
  async #swap(next: ReadShow): Promise<readonly string[]> {
    const { show } = next;
    const same = sendsAlike(show, this.#read.show);
    if (!same) {
      const problems = await this.#swapLighting(show);
      if (problems.length > 0) return problems;
    }
    const old = this.#keeper;
    // Its levels end with it; the fade of the new show begins at what was last sent.
    this.#levels = takeOverLevels(show, this.#levels);
    const kept = this.#memory.state;
    this.#store?.close();
    this.#read = next;
    this.#lastLook?.close();
    const { runtimeFolder } = this.options;
    if (runtimeFolder !== undefined) {
      this.#lastLook = LastLook.open(runtimeFolder, next.text, this.#levels.out.length);
    }
    this.#periodS = 1 / tickHzOf(show);
    this.#store = this.#storeOf(show);
    this.#memory = new OperatorMemory(show, kept);
    this.#keeper = this.#keeperOf(next);
    // The ports are the old engine's until it has gone.
    await old.end();
    if (!this.#finished && this.#stopping === undefined) this.#keeper.start();
    return [];
  }

  /** The old sockets give way, as the new ones may need their ports; a universe in both goes on counting. */
  async #swapLighting(show: Show): Promise<readonly string[]> {
    const old = this.#lighting;
    if (old === undefined) return ['the daemon is ending.'];
    this.#lighting = undefined;
    await old.close();
    const opened = await this.#openLighting(show);
    if (opened.ok) {
      opened.output.continueFrom(old);
      this.#lighting = opened.output;
      if (this.#pair !== undefined) this.#arrange(this.#pair, opened.output);
      return [];
    }
    const again = await this.#openLighting(this.#read.show);
    if (again.ok) {
      again.output.continueFrom(old);
      this.#lighting = again.output;
      if (this.#pair !== undefined) this.#arrange(this.#pair, again.output);
      return opened.problems;
    }
    return [...opened.problems, ...again.problems];
  }

  #beat(): void {
    if (this.#finished) return;
    clearTimeout(this.#timer);
    const nowS = monotonicS();
    const dtS = nowS - this.#lastBeatS;
    this.#lastBeatS = nowS;
    const keeper = this.#keeper;
    const { fallback, plan, out } = this.#levels;
    const before = fallback.phase;
    const condition = this.#condition(nowS);
    const well = condition === undefined;
    if (stepFallback(fallback, plan, keeper.levels, well, dtS, out)) {
      const cause = this.#cause(nowS, condition);
      this.options.onEvent({ kind: 'lights', from: before, to: fallback.phase, cause });
      if (this.#stopping === undefined) {
        this.#service?.status(`lights ${fallback.phase}: ${cause}`);
      }
    }
    this.#stepPair(nowS);
    stepBlend(this.#levels, dtS);
    stepLeaving(this.#levels.leaving, out, dtS, nowS, this.#lighting?.cutOff());
    this.#sayFlashes(nowS);
    this.#lighting?.send(out, nowS);
    this.#lastLook?.write(out, nowS);
    this.#service?.beat(nowS, dtS, () => this.#lighting?.hasSent() === true);
    keeper.tend(nowS, well);
    const stopping = this.#stopping;
    if (stopping !== undefined) {
      const { slowed, flash } = this.#levels.leaving;
      const settled = fallback.retreats.every(isFullySafe) && slowed === 0 && flash.held === 0;
      if (settled || nowS >= stopping.untilS) {
        void this.#finish().then(stopping.done);
        return;
      }
    }
    // A frame comes a period after the last one; only when it is late does the beat go on without.
    const waitS = this.#periodS * (well ? 1.5 : 1);
    this.#timer = setTimeout(() => this.#beat(), waitS * 1e3);
  }

  #stepPair(nowS: number): void {
    const [pair, lighting] = [this.#pair, this.#lighting];
    if (pair === undefined || lighting === undefined || pair.phase === 'leading') return;
    const { partner } = lighting;
    const other: OtherLight = {
      levels: partner.levels,
      knows: universe => partner.knows(universe, nowS),
    };
    const before = pair.phase;
    const to = pair.step({
      nowS,
      partnerHeard: partner.isHeard(nowS),
      live: this.#levels.fallback.phase === 'live',
      alike: before === 'joining' && isAlike(this.#levels, other),
    });
    if (to === undefined) return;
    if (pair.crossfades) beginBlend(this.#levels, other);
    this.#arrange(pair, lighting);
    // That there is no standby is no news.
    if (before === 'listening' && to === 'leading') return;
    this.options.onEvent({ kind: 'pair', from: before, to });
  }

  #arrange(pair: Pair, lighting: LightingOutput): void {
    lighting.shiftPriority(pair.priorityShift);
    // A main one alone on Art-Net has nobody to wait for: its light is out at once.
    lighting.holdsArtnet =
      pair.holdsArtnet && (this.options.standby === true || lighting.hearsArtnet);
    lighting.hearsAlways = pair.phase === 'joining';
  }

  /** Once at the start of each series of flashes that are held back, not once a beat. */
  #sayFlashes(nowS: number): void {
    const { held } = this.#levels.leaving.flash;
    if (held === 0) return;
    if (nowS - this.#flashesHeldS > FLASHES_APART_S) {
      this.options.onEvent({ kind: 'flashes-held', fixtures: held });
    }
    this.#flashesHeldS = nowS;
  }

  #condition(nowS: number): SupervisorCondition | undefined {
    const { lastFrameS, pid } = this.#keeper;
    const health = {
      stopping: this.#stopping !== undefined,
      running: pid !== undefined,
      frameAgeS: lastFrameS === undefined ? undefined : nowS - lastFrameS,
    };
    return supervisorCondition(health, this.#read.show.watchdog.engineSilent.afterS);
  }

  #cause(nowS: number, condition: SupervisorCondition | undefined): string {
    const { lastFrameS } = this.#keeper;
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

  async #finish(): Promise<void> {
    if (this.#finished) return;
    this.#finished = true;
    clearTimeout(this.#timer);
    this.#stopping ??= { untilS: 0, done: () => undefined };
    const lighting = this.#lighting;
    this.#lighting = undefined;
    this.#lastLook?.end();
    await lighting?.terminate();
    await lighting?.close();
    await this.#keeper.end();
    await this.#store?.settled();
    this.#store?.close();
    this.options.onEvent({ kind: 'stopped' });
  }
}

/** The engine ticks, and the supervisor beats, as often as the fastest output sends. */
export function tickHzOf(show: Show): number {
  return Math.max(...show.outputs.map(output => output.rateHz));
}

/** Whether the sockets of the one show serve the other. */
function sendsAlike(a: Show, b: Show): boolean {
  const sent = ({ name, outputs, universes }: Show) => JSON.stringify([name, outputs, universes]);
  return sent(a) === sent(b);
}
