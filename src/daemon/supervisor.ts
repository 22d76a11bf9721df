import type { OperatorAction } from '../engine/operator-action.js';
import { type FallbackPhase, stepFallback, timeToSafeS } from '../safety/fallback.js';
import { beginLimiterBeat, type CutOff, stepOutputLimiter } from '../safety/output-limiter.js';
import type { SupervisorCondition } from '../safety/watchdog-table.js';
import type { Show } from '../show/model.js';
import { safeLook } from '../show/safe-look.js';
import { sectionsOf } from '../show/sections.js';
import { AcceptedShow } from './accepted-show.js';
import { AfterBeat } from './after-beat.js';
import { type Beat, BeatClock, type OpenBeat } from './beat-clock.js';
import { makeWay } from './change-over.js';
import { CleanEnd } from './clean-end.js';
import { monotonicS } from './clock.js';
import { Continuity } from './continuity.js';
import { followCue } from './cue-levels.js';
import { EngineLoss } from './engine-loss.js';
import { EngineRunner, type EngineRunnerEvent } from './engine-runner.js';
import { FadeOut } from './fade-out.js';
import { FlashNews } from './flash-news.js';
import { goesOn } from './goes-on.js';
import { blockedInputs } from './input-socket.js';
import type { FoundLook } from './last-look.js';
import type { LightingOutput } from './lighting/lighting-output.js';
import { lightsEvent, reloadEvent } from './lights-event.js';
import { cueIn, goOnWith, prepareLevels } from './next-levels.js';
import { OperatorKeeping } from './operator/keeping.js';
import { Ownership } from './ownership/ownership.js';
import { packShow } from './packed-show.js';
import { followComeback, isSettledSafe, rejoin } from './rejoin.js';
import { Reloading } from './reloading.js';
import { realtimePolicy } from './scheduling.js';
import { Service } from './service/service.js';
import {
  countLoss,
  createShowLevels,
  heldFixtures,
  type ShowLevels,
  shortenFades,
  stepBlend,
  takeSection,
} from './show-levels.js';
import { ShowLighting, tickHzOf } from './show-lighting.js';
import type { Status } from './status/status.js';
import { StatusTeller } from './status/teller.js';
import type { ReadShow, Reloaded, SupervisorOptions } from './supervisor-options.js';
import { takeOverLevels } from './take-over.js';

export type { SupervisorEvent } from './supervisor-options.js';

/** How long the clean end may take beyond the fade: the flash limit may hold a lit safe look for a second. */
const STOP_GRACE_S = 1.5;
/** Of each stream, what may have left after it was noted last: one in a beat, and some to spare. */
const UNNOTED_PACKETS = 4;

/**
 * Holds the lighting sockets and the safe look; starts the engine, and starts it again. It sends at
 * the rate of the outputs whatever the engine does, and is the only one who does.
 */
export class Supervisor {
  #read: ReadShow;
  #levels: ShowLevels;
  #runner: EngineRunner;
  /** What people have changed: also while there is no engine, for the next one begins with it. */
  readonly keeping: OperatorKeeping;
  #periodS: number;
  readonly #service: Service | undefined;
  readonly #lights: ShowLighting;
  readonly #loss = new EngineLoss();
  #timer: NodeJS.Timeout | undefined;
  readonly #clock = new BeatClock();
  #openBeat: OpenBeat | undefined;
  readonly #flashNews = new FlashNews();
  readonly #fadeOut = new FadeOut();
  readonly #afterBeat = new AfterBeat();
  readonly #end = new CleanEnd();
  #finished = false;
  readonly #teller: StatusTeller;

  readonly #ownership: Ownership;
  readonly #accepted: AcceptedShow;
  readonly #reloading: Reloading;
  readonly #continuity: Continuity;
  private readonly options: SupervisorOptions;

  constructor(given: SupervisorOptions) {
    const { show, text, file, standby = false, stateFolder, runtimeFolder } = given;
    this.#teller = new StatusTeller(show, line => {
      if (!this.#end.isUnderWay) this.#service?.status(line());
    });
    this.options = this.#teller.listeningTo(given);
    const { options } = this;
    const { onEvent } = options;
    this.#continuity = new Continuity({ runtimeFolder, stateFolder, file, standby, onEvent });
    this.#ownership = options.ownership ?? new Ownership();
    this.#accepted = new AcceptedShow(stateFolder, onEvent);
    this.#reloading = new Reloading({
      current: () => this.#read,
      isEnding: () => this.#end.isUnderWay,
      swap: (next, goesBack) => this.#swap(next, goesBack),
      goOn: next => this.#goOn(next),
      engineFault: () => this.#runner.neverRanAs,
      retry: () => this.#runner.retry(),
      refused: ({ file, text }, problems) => this.#accepted.refuse(file, text, problems),
      onEvent,
      staleBecause: options.staleBecause,
    });
    this.#read = { show, text, file };
    this.#levels = createShowLevels(show);
    this.#periodS = 1 / tickHzOf(show);
    this.#service = Service.of({
      env: process.env,
      pid: process.pid,
      beatS: this.#periodS,
      onFailure: reason => options.onEvent({ kind: 'service-fault', reason }),
    });
    this.#lights = new ShowLighting({
      standby,
      cid: () => this.#continuity.cid,
      ownership: this.#ownership,
      stateFolder,
      onEvent: event => options.onEvent({ kind: 'lighting', event }),
    });
    this.keeping = new OperatorKeeping(show, stateFolder, onEvent);
    this.#runner = this.#runnerOf(this.#read);
  }

  get phase(): FallbackPhase {
    return this.#levels.fallback.phase;
  }

  get status(): Status {
    return this.#teller.status;
  }

  /** Something that is wrong until it is told to be well; see `StatusBook.trouble`. */
  trouble(key: string, what: string | undefined): void {
    this.#teller.trouble(key, what);
  }

  get enginePid(): number | undefined {
    return this.#runner.pid;
  }

  get lighting(): LightingOutput | undefined {
    return this.#lights.output;
  }

  /**
   * Opens the lighting sockets, sends the safe look, and starts the engine.
   * @param onFailure called if the first engine says that it can't run (a port is taken, say)
   * @returns problems with the outputs, in plain words; empty when all is well
   */
  async start(onFailure: (message: string) => void): Promise<readonly string[]> {
    const { startsAnyway = false, stateFolder } = this.options;
    const { show } = this.#read;
    const owned = await this.#ownership.take(show, stateFolder);
    if (!owned.ok) return owned.problems;
    const found = this.#continuity.find();
    // The engine of a supervisor that has died just now may still have its ports, for a moment.
    const blocked = found === undefined ? await blockedInputs(show.inputs) : [];
    if (blocked.length > 0) {
      if (!startsAnyway) return blocked;
      this.options.onEvent({ kind: 'input-blocked', problems: blocked });
    }
    const problems = await this.#lights.start(show, startsAnyway);
    if (problems.length > 0) return problems;
    if (!startsAnyway) this.#reloading.onFailedStart = onFailure;
    const nowS = monotonicS();
    this.#clock.start(nowS);
    const policy = realtimePolicy();
    if (policy !== undefined) this.options.onEvent({ kind: 'realtime-policy', policy });
    this.keeping.load(show);
    this.#levels = createShowLevels(show, this.keeping.cue);
    this.#lights.startPair(nowS, this.#resume(found));
    this.#beat();
    this.#service?.ready();
    this.#teller.say();
    this.#accepted.keep(this.#read.file, this.#read.text);
    this.#runner.start();
    return [];
  }

  /**
   * Has the engine do what a person wants; what becomes of it is told in events.
   * @returns whether there is an engine to do it
   */
  operate(actions: readonly OperatorAction[]): boolean {
    return this.#runner.operate(actions);
  }

  /** No other machine has the light. */
  get leads(): boolean {
    return this.#lights.leads(monotonicS());
  }

  /** The show that runs, or that is to run next. */
  get show(): Show {
    return this.#read.show;
  }

  /**
   * Takes another show, by way of its safe look: what is lit now fades to it, then its engine takes over.
   * If its outputs can't be opened or its engine can't run, the show that was running comes back.
   * @returns why not; empty when it is loaded
   */
  reload(next: ReadShow, by?: string): Promise<Reloaded> {
    return this.#reloading.reload(next, by);
  }

  /** Fades to the safe look, ends the streams as E1.31 asks, and ends the engine. */
  stop(): Promise<void> {
    if (this.#end.isUnderWay) return Promise.resolve();
    this.options.onEvent({ kind: 'stopping' });
    this.#runner.letGo();
    this.#service?.stopping(this.#safeWithinS + STOP_GRACE_S);
    return this.#end.begin(this.#safeWithinS);
  }

  /** Nothing new is sent from now on: the process is about to end, and its next goes on from there. */
  freeze(): void {
    this.#finished = true;
    clearTimeout(this.#timer);
  }

  /** Ends at once, at whatever the lights show: for a second Ctrl-C. */
  async abort(): Promise<void> {
    await this.#finish();
  }

  #runnerOf({ show, text, file }: ReadShow): EngineRunner {
    const { snapshotHz, traceTicks, record, onCounters, onSnapshot } = this.options;
    const orders = { text, file, tickHz: tickHzOf(show), snapshotHz, traceTicks, record };
    const runner: EngineRunner = new EngineRunner({
      show,
      sections: sectionsOf(show),
      orders,
      levels: safeLook(show),
      restored: () => this.keeping.restored(),
      onSection: section => {
        if (this.#runner === runner) this.#takeSection(section);
      },
      onEvent: event => this.#hear(event),
      onCounters,
      onSnapshot,
      // The whole start has failed, or the show that was loaded anew has.
      onCannotRun: message => this.#end.isUnderWay || this.#reloading.cannotRun(message),
    });
    return runner;
  }

  #hear(event: EngineRunnerEvent): void {
    this.options.onEvent(event);
    if (event.kind === 'engine-started') {
      this.#loss.forget();
      this.#accepted.keep(this.#read.file, this.#read.text);
    }
    if (event.kind !== 'engine') return;
    this.keeping.hear(event.event);
    this.#loss.hear(event.event, this.#read.show, monotonicS());
  }

  /** Goes on from what a supervisor that has died just now had sent, and keeps what this one sends. */
  #resume(found: FoundLook | undefined): boolean {
    const { show } = this.#read;
    if (found !== undefined) {
      this.#lights.goOn(show, found.streams, UNNOTED_PACKETS);
      const { universes, levels: out, losingForS } = found;
      const before = { show: { universes }, out, losingForS };
      this.#levels = takeOverLevels(show, before, this.keeping.cue);
      this.options.onEvent({ kind: 'light-resumed' });
    }
    this.#continuity.keep(show.universes, this.lighting?.streams ?? []);
    return found !== undefined;
  }

  /** Where patch, outputs and inputs are the same and the light is live. @returns what there is against it */
  #goOn(next: ReadShow): Promise<readonly string[] | 'by the safe look'> | undefined {
    const can = this.#isSteady() && goesOn(this.#read.show, next.show);
    return can ? this.#goOnWith(next) : undefined;
  }

  async #goOnWith(next: ReadShow): Promise<readonly string[] | 'by the safe look'> {
    const { show } = next;
    const { packed = packShow(show) } = next;
    const levels = await prepareLevels(show, cueIn(show, this.#read.show, this.keeping.cue), () =>
      this.#afterBeat.next(),
    );
    const runner = this.#runner;
    if (!this.#isSteady() || this.#end.isUnderWay) return 'by the safe look';
    const fault = await runner.takeShow({ ...next, packed }, () => {
      // Lost in the meantime: it goes on fading, as after any reload.
      this.keeping.swap(show);
      const { cue } = this.keeping;
      this.#levels = this.#isSteady()
        ? followCue(goOnWith(levels, this.#levels), cue, true)
        : takeOverLevels(show, this.#levels, cue);
      this.#read = next;
      this.#openBeat = undefined;
      this.#loss.forget();
      this.#teller.goOn(show);
      this.#lights.goOnAs(show);
      this.#accepted.keep(next.file, next.text);
    });
    return fault === undefined ? [] : [`its engine could not go on with it: ${fault}.`];
  }

  /** @returns why not; empty when the other show is out */
  async #swap(next: ReadShow, goesBack: boolean): Promise<readonly string[]> {
    const { show } = next;
    const runner = this.#runnerOf(next);
    const problems = await makeWay({
      from: this.#read.show,
      to: show,
      missing: next.missing,
      goesBack,
      runner,
      lights: this.#lights,
      fadeOut: this.#fadeOut,
      safeWithinS: this.#safeWithinS,
      isEnding: () => this.#end.isUnderWay,
    });
    if (problems.length > 0) return problems;
    const old = this.#runner;
    // Its levels end with it; the fade of the new show begins at what was last sent.
    const before = this.phase;
    const wasLive = before === 'live';
    this.keeping.swap(show);
    this.#levels = takeOverLevels(show, this.#levels, this.keeping.cue);
    if (wasLive) shortenFades(this.#levels, this.#loss.leftS(monotonicS()));
    this.#loss.forget();
    this.#read = next;
    this.#teller.take(show);
    if (before !== this.phase) this.options.onEvent(reloadEvent(before, this.phase));
    this.#continuity.keep(show.universes, this.lighting?.streams ?? []);
    this.#periodS = 1 / tickHzOf(show);
    this.#runner = runner;
    // The ports are the old engine's until it has gone.
    await old.end();
    if (!this.#finished && !this.#end.isUnderWay) this.#runner.start();
    return [];
  }

  /**
   * A section of a frame has come. While all is well it leaves before the next has been computed; whatever
   * else there is to do is done for the whole light at once, when the last one is there.
   */
  #takeSection(index: number): void {
    if (this.#finished) return;
    this.keeping.noteCue(this.#runner.cue);
    const { sections } = this.#levels;
    const section = sections[index];
    if (section === undefined) return;
    const isLast = index === sections.length - 1;
    if (!this.#isSteady()) {
      if (isLast) this.#beat();
      return;
    }
    const open = this.#openBeat;
    const beat = open === undefined || index <= open.section ? this.#beginBeat() : open;
    beat.section = index;
    const { nowS, dtS, cutOff } = beat;
    followCue(this.#levels, this.keeping.cue, true);
    takeSection(this.#levels, section, this.#runner.levels, dtS, cutOff);
    this.lighting?.sendUniverses(section.firstUniverse, section.endUniverse, nowS);
    if (!isLast) return;
    this.lighting?.endBeat(nowS);
    this.#endBeat(beat, true);
    this.#await(1.5);
  }

  /** Nothing is to be done to the light but what the engine says. */
  #isSteady(): boolean {
    const { fallback, blend, comeback, outages } = this.#levels;
    const nowS = monotonicS();
    const stalled = this.#clock.hasStalled(nowS, this.#periodS, this.#silentAfterS);
    const well = this.#condition(nowS) === undefined && !stalled && !this.#fadeOut.isUnderWay;
    const isUnderWay = blend !== undefined || comeback !== undefined || outages.hasReturned;
    return fallback.phase === 'live' && well && !isUnderWay && this.#lights.leads(nowS);
  }

  /** The first section of a frame. If the last one doesn't come, a whole beat does: the timer still runs. */
  #beginBeat(): OpenBeat {
    const beat = this.#nextBeat();
    const cutOff = this.#cutOff(beat.nowS);
    beginLimiterBeat(this.#levels.limiter, beat.nowS);
    this.lighting?.beginBeat(this.#levels.out);
    this.#openBeat = { ...beat, cutOff, section: 0 };
    return this.#openBeat;
  }

  #cutOff(nowS: number): CutOff | undefined {
    const cutOff = this.lighting?.cutOff();
    return cutOff === undefined ? undefined : this.#levels.outages.look(cutOff, nowS);
  }

  #nextBeat(): Beat {
    const beat = this.#clock.next(this.#periodS, this.#silentAfterS);
    if (beat.stalled) this.options.onEvent({ kind: 'stood-still', forS: beat.sinceS });
    this.#openBeat = undefined;
    return beat;
  }

  /** A whole beat at once. */
  #beat(): void {
    if (this.#finished) return;
    const beat = this.#nextBeat();
    const { nowS, dtS, sinceS, stalled } = beat;
    const runner = this.#runner;
    const before = this.phase;
    const condition = this.#condition(nowS);
    const runs = condition === undefined && !stalled;
    const fadesOut = runs && this.#fadeOut.isUnderWay;
    const well = runs && !fadesOut;
    this.#levels = followCue(this.#levels, this.keeping.cue, well);
    const { fallback, plan, out } = this.#levels;
    const sent = this.#levels.outages.hasReturned ? Uint8Array.from(out) : undefined;
    stepFallback(fallback, plan, runner.levels, well, dtS, out);
    if (before !== fallback.phase) {
      // What it would have faded in a stall is not caught up with: the loss has as long as it had before.
      const countsS = stalled ? nowS - sinceS : nowS;
      if (before === 'live') shortenFades(this.#levels, this.#loss.leftS(countsS));
      const why = { condition, stalledS: stalled ? sinceS : undefined, fadesOut };
      this.options.onEvent(lightsEvent(before, fallback.phase, why, runner, nowS));
    }
    if (sent !== undefined) this.options.onEvent(rejoin(this.#levels, sent));
    followComeback(this.#levels, dtS);
    for (const change of this.#lights.stepPair(this.#levels, nowS, this.#clock.hears(nowS))) {
      this.options.onEvent({ kind: 'pair', ...change });
    }
    stepBlend(this.#levels, dtS);
    stepOutputLimiter(this.#levels.limiter, out, dtS, nowS, this.#cutOff(nowS));
    this.lighting?.send(out, nowS);
    this.#endBeat(beat, runs);
    const settled = isSettledSafe(this.#levels) && this.lighting?.shared.isBehind !== true;
    this.#fadeOut.step(settled, dtS);
    if (this.#end.step(settled, dtS)) {
      void this.#finish().then(() => this.#end.finish());
      return;
    }
    // A frame comes a period after the last one; only when it is late does the beat go on without.
    this.#await(runs ? 1.5 : 1);
  }

  #endBeat({ nowS, dtS, sinceS }: Beat, well: boolean): void {
    this.#openBeat = undefined;
    this.#afterBeat.tell();
    countLoss(this.#levels, dtS);
    this.#teller.cue(this.keeping.cue);
    const { held } = this.#levels.limiter.flash;
    const late = this.#flashNews.beat(held, nowS, () => heldFixtures(this.#levels));
    if (late !== undefined) this.options.onEvent({ kind: 'flashes-held', ...late });
    this.#lights.tellOfInterfaces();
    const problems = this.#reloading.stale.due(nowS);
    if (problems !== undefined) this.options.onEvent({ kind: 'show-stale', problems });
    this.#continuity.write(this.#levels.out, nowS, this.#levels.losingForS);
    this.#service?.beat(nowS, sinceS, () => this.lighting?.hasSent() === true);
    if (this.#clock.hears(nowS)) this.#runner.tend(nowS, well);
  }

  #await(periods: number): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#beat(), this.#periodS * periods * 1e3);
  }

  /** By then all light is at the safe look, wherever it is now. */
  get #safeWithinS(): number {
    return timeToSafeS(this.#levels.plan) + STOP_GRACE_S;
  }

  get #silentAfterS(): number {
    return this.#read.show.watchdog.engineSilent.afterS;
  }

  #condition(nowS: number): SupervisorCondition | undefined {
    return this.#runner.condition(this.#end.isUnderWay, this.#silentAfterS, nowS);
  }

  async #finish(): Promise<void> {
    if (this.#finished) return;
    this.#finished = true;
    clearTimeout(this.#timer);
    this.#end.beginNow();
    this.#fadeOut.end();
    this.#afterBeat.tell();
    this.#continuity.end();
    await this.#lights.end();
    await this.#runner.end();
    await this.keeping.end();
    await this.#accepted.end();
    this.#ownership.release();
    this.options.onEvent({ kind: 'stopped' });
  }
}
