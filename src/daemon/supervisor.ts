import type { OperatorAction } from '../engine/values/operator-action.js';
import type { DelayHistogram } from '../live/light-delays.js';
import type { FallbackPhase } from '../safety/fallback.js';
import { isFixtureName } from '../show/model/fixture-groups.js';
import { hasGround } from '../show/model/grounds.js';
import type { Show } from '../show/model/model.js';
import { safeLook } from '../show/model/safe-look.js';
import { sectionsOf } from '../show/model/sections.js';
import type { Status } from './asking/status.js';
import { Beats } from './beats/beats.js';
import { makeWay } from './beats/change-over.js';
import { CleanEnd } from './beats/clean-end.js';
import { Continuity } from './beats/continuity.js';
import { sendsOtherwise } from './beats/goes-on.js';
import { reloadEvent } from './beats/lights-event.js';
import { OtherMachine } from './beats/other-machine.js';
import { resumesArtnet } from './beats/pair.js';
import { asPassing } from './beats/passing.js';
import { Reloading } from './beats/reloading.js';
import { ShowLighting, tickHzOf } from './beats/show-lighting.js';
import type {
  BySafeLook,
  ReadShow,
  Reloaded,
  SupervisorOptions,
} from './beats/supervisor-options.js';
import { DeskLink } from './desk/link.js';
import { EnabledOutputs } from './engine/enabled-outputs.js';
import { EngineLoss } from './engine/engine-loss.js';
import { EngineRunner, type EngineRunnerEvent } from './engine/engine-runner.js';
import { blockedInputs } from './engine/input-socket.js';
import { packedText, packShow } from './engine/packed-show.js';
import { AcceptedShow } from './files/accepted-show.js';
import type { FoundLook } from './files/last-look.js';
import { followCue } from './levels/cue-levels.js';
import { cueIn, goOnWith, prepareLevels } from './levels/next-levels.js';
import { createShowLevels } from './levels/show-levels.js';
import { takeOverLevels } from './levels/take-over.js';
import type { LightingOutput } from './lighting/lighting-output.js';
import { monotonicS } from './machine/clock.js';
import { realtimePolicy } from './machine/scheduling.js';
import { OperatorKeeping } from './memory/keeping.js';
import { KeptStops } from './memory/kept-stops.js';
import { OrderInputs } from './memory/order-inputs.js';
import { Ownership } from './ownership/ownership.js';
import type { PanelEvent } from './panel/panel-runner.js';
import { Service } from './service/service.js';
import { StatusTeller } from './status/teller.js';
import type { TroubleKey } from './status/troubles.js';

export type { SupervisorEvent } from './beats/supervisor-options.js';

/** Told to the service beyond the way to the safe look: for the packets that end the streams. */
const END_GRACE_S = 1.5;
/** An unchanged universe is sent within a second (E1.31 6.6.2): by then all of the standby has been heard. */
const HANDS_OVER_WITHIN_S = 1.25;
/**
 * In the crossfade of a cue the standby is some tenths of a second behind: so long a stop waits for its end. In a longer
 * one the two are alike all the while.
 */
const CROSSFADE_WITHIN_S = 15;
/** Of each stream, what may have left after it was noted last: one in a beat, and some to spare. */
const UNNOTED_PACKETS = 4;

/**
 * Holds the lighting sockets and the safe look; starts the engine, and starts it again. It sends at
 * the rate of the outputs whatever the engine does, and is the only one who does.
 */
export class Supervisor {
  #read: ReadShow;
  #runner: EngineRunner;
  /** What people have changed, also while there is no engine: the next one begins with it. */
  readonly keeping: OperatorKeeping;
  readonly #orders: OrderInputs;
  readonly #keptStops: KeptStops;
  readonly #otherMachine: OtherMachine;
  readonly #service: Service | undefined;
  readonly #lights: ShowLighting;
  readonly #loss = new EngineLoss();
  readonly #enabled = new EnabledOutputs();
  readonly #beats: Beats;
  readonly desk: DeskLink;
  readonly #end = new CleanEnd();
  #finished = false;
  #stop: Promise<void> | undefined;
  #lookHz = 0;
  /** Name of what the engine highlights. */
  #highlighted: string | undefined;
  readonly #teller: StatusTeller;

  readonly #ownership: Ownership;
  readonly #accepted: AcceptedShow;
  readonly #reloading: Reloading;
  readonly #continuity: Continuity;
  private readonly options: SupervisorOptions;

  constructor(given: SupervisorOptions) {
    const { show, text, file, standby = false, stateFolder, runtimeFolder } = given;
    this.#teller = new StatusTeller(
      show,
      line => {
        if (!this.#end.isUnderWay) this.#service?.status(line());
      },
      { standby, look: nowS => this.#lights.pair(nowS) },
      () => this.levels,
    );
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
    this.#service = Service.of({
      env: process.env,
      pid: process.pid,
      beatS: 1 / tickHzOf(show),
      onFailure: reason => options.onEvent({ kind: 'service-fault', reason }),
    });
    this.desk = new DeskLink({
      standby,
      cid: () => this.#continuity.cid,
      lighting: () => this.lighting,
      tell: levels => this.#runner.tellDesk(levels),
      frameS: () => this.#runner.frameS,
      onEvent: event => options.onEvent({ kind: 'desk', event }),
    });
    this.#lights = new ShowLighting({
      standby,
      cid: () => this.#continuity.cid,
      ownership: this.#ownership,
      stateFolder,
      onReopened: () => this.#keepLook(this.#read.show),
      onHeard: (protocol, bytes, from, address) => this.desk.hear(protocol, bytes, from, address),
      portsAt: address => this.desk.portsAt(address),
      falls: fixture => this.#runner.falls(fixture),
      onClosing: () => this.desk.giveWay(),
      onEvent: event => options.onEvent({ kind: 'lighting', event }),
    });
    this.keeping = new OperatorKeeping(show, stateFolder, onEvent);
    this.#keptStops = new KeptStops({
      keeping: this.keeping,
      show: () => this.#read.show,
      isWell: nowS => {
        const { afterS } = this.#read.show.watchdog.engineSilent;
        return this.#runner.condition(false, afterS, nowS) === undefined;
      },
      frameS: () => this.#runner.frameS,
      operate: actions => this.operate(actions),
      onEvent: event => {
        if (event.kind === 'orders-lost') this.#orders.lose(event.count);
        onEvent(event);
      },
    });
    const ours = {
      digest: () => this.show.digest,
      hearsTracking: () => this.hearsTracking,
      hasStandby: () => (this.show.operator?.main.length ?? 0) > 0,
    };
    this.#otherMachine = new OtherMachine(standby, ours, onEvent);
    this.#orders = new OrderInputs({
      forward: orders => this.#runner.hearOrders(orders),
      heard: orders => {
        this.#keptStops.hear(orders, monotonicS());
        this.#otherMachine.hear(orders, monotonicS());
      },
      fault: message => this.#hear({ kind: 'engine', event: { kind: 'input-fault', message } }),
      back: message => this.#hear({ kind: 'engine', event: { kind: 'input-back', message } }),
    });
    this.#runner = this.#runnerOf(this.#read);
    this.#beats = new Beats(show, {
      lights: this.#lights,
      keeping: this.keeping,
      continuity: this.#continuity,
      loss: this.#loss,
      end: this.#end,
      desk: this.desk,
      delays: this.#teller.delays,
      runner: () => this.#runner,
      onBeat: (nowS, sinceS) => this.#afterBeat(nowS, sinceS),
      onEnd: () => void this.#finish().then(() => this.#end.finish()),
      onEvent: event => options.onEvent(event),
    });
  }

  get phase(): FallbackPhase {
    return this.#beats.levels.fallback.phase;
  }

  get hearsTracking(): boolean {
    return this.#teller.hearsTracking;
  }

  get status(): Status {
    return this.#teller.status;
  }

  /** How long positions took to the light, since it began. */
  get delays(): readonly DelayHistogram[] {
    return this.#teller.delays.told;
  }

  /** What its process tells is in the status. */
  panel(event: PanelEvent): void {
    this.#teller.panel(event);
  }

  /** Something that is wrong until it is reported well again; see `StatusBook.trouble`. */
  trouble(key: TroubleKey, what: string | undefined): void {
    this.#teller.trouble(key, what);
  }

  /**
   * Positions are played, and the status says so.
   * @param what undefined: it is over
   * @returns whether it is news
   */
  rehearse(what: string | undefined, holdsS?: number): boolean {
    return this.#teller.rehearse(what, holdsS);
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
    this.keeping.load(show);
    await this.#orders.take(show);
    const nowS = monotonicS();
    this.#beats.startClock(nowS);
    const policy = realtimePolicy();
    if (policy !== undefined) this.options.onEvent({ kind: 'realtime-policy', policy });
    this.desk.take(show);
    this.#beats.take(createShowLevels(show, this.keeping.cue));
    this.#resume(found);
    const resumes = resumesArtnet(found, nowS);
    this.#lights.startPair(nowS, { resumes, goesOn: found !== undefined });
    this.#beats.beat();
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

  /** No other machine has the light, nor leads this show because it sends the first outputs. */
  get leads(): boolean {
    return this.show.share?.tells !== false && this.#lights.leads(monotonicS());
  }

  /** What the other machine of the pair is to hear of from this one, see `PairLight`. */
  get tellsOther(): 'all' | 'own' | undefined {
    return this.#lights.tellsOther(monotonicS());
  }

  /** Has the engine make so many snapshots a second for whoever looks; 0: none. */
  look(rateHz: number): void {
    this.#lookHz = rateHz;
    this.#runner.look(rateHz);
  }

  /** Of all universes of the show as last sent, 512 each. */
  get levels(): Readonly<Uint8Array> {
    return this.#beats.levels.out;
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

  /**
   * Fades to the safe look, ends the streams as E1.31 asks, and ends the engine. Where a standby has the same light
   * the streams end at once, and receivers take it: a fade would be seen, and the standby's light after it.
   */
  stop(): Promise<void> {
    this.#stop ??= this.#lights.seekStandby(monotonicS()) ? this.#endBeside() : this.#fadeAndEnd();
    return this.#stop;
  }

  #fadeAndEnd(): Promise<void> {
    if (this.#end.isUnderWay) return Promise.resolve();
    this.options.onEvent({ kind: 'stopping' });
    this.#runner.letGo();
    const { safeWithinS } = this.#beats;
    this.#service?.stopping(safeWithinS + END_GRACE_S);
    return this.#end.begin(safeWithinS);
  }

  /** A standby is there. */
  async #endBeside(): Promise<void> {
    const nowS = monotonicS();
    const waitsS = Math.min(CROSSFADE_WITHIN_S, this.#beats.crossfadeLeftS(nowS));
    const withinS = waitsS + HANDS_OVER_WITHIN_S;
    this.#service?.stopping(withinS + this.#beats.safeWithinS + END_GRACE_S);
    const untilS = nowS + withinS;
    if (waitsS > 0) this.options.onEvent({ kind: 'stopping', waitsS });
    while (!this.#end.isUnderWay && monotonicS() < untilS) {
      if (this.#beats.isSteady() && this.#lights.isCovered(this.#beats.levels, monotonicS())) {
        this.options.onEvent({ kind: 'stopping', handsOver: true });
        this.#runner.letGo();
        return this.#finish();
      }
      await this.#beats.next();
    }
    return this.#fadeAndEnd();
  }

  /** Nothing new is sent from now on: the process is about to end, and its next goes on from there. */
  freeze(): void {
    this.#finished = true;
    this.#beats.stop();
  }

  /** Ends at once, at whatever the lights show: for a second Ctrl-C. */
  async abort(): Promise<void> {
    await this.#finish();
  }

  #runnerOf({ show, text, file, packed = packShow(show) }: ReadShow): EngineRunner {
    const { traceTicks, record, onEngineStarts, onCounters } = this.options;
    const snapshotHz = this.#lookHz;
    const onPipe = { text, file, packed: packedText(packed) };
    const orders = { ...onPipe, tickHz: tickHzOf(show), snapshotHz, traceTicks, record };
    const runner: EngineRunner = new EngineRunner({
      show,
      sections: sectionsOf(show),
      orders,
      levels: safeLook(show),
      restored: () => this.keeping.restored(),
      heldInputs: () => this.#orders.held,
      onEngineStarts,
      onSection: section => {
        if (this.#runner === runner) this.#beats.takeSection(section);
      },
      onEvent: event => this.#hear(event),
      onCounters,
      onSnapshot: text => {
        if (this.#runner === runner) this.options.onSnapshot?.(text);
      },
      onPositions: rounds => this.options.onPositions?.(rounds),
      // The whole start has failed, or the show that was loaded anew has.
      onCannotRun: message => this.#end.isUnderWay || this.#reloading.cannotRun(message),
    });
    return runner;
  }

  /** Nobody else says that it is over. */
  #endHighlight(reason: 'engine-ended' | 'reload'): void {
    const fixture = this.#highlighted;
    if (fixture === undefined) return;
    this.#hear({ kind: 'engine', event: { kind: 'highlight', fixture, on: false, reason } });
  }

  #hear(event: EngineRunnerEvent): void {
    this.options.onEvent(event);
    if (event.kind === 'engine-ended') {
      this.#endHighlight('engine-ended');
      const outputs = this.#enabled.drop();
      if (outputs.length > 0) this.options.onEvent({ kind: 'enables-dropped', outputs });
      this.#keptStops.engineEnded(monotonicS());
      void this.#orders.openRest();
    }
    if (event.kind === 'engine-started') {
      this.desk.tellNew();
      this.#orders.tellNew();
      this.#keptStops.engineBegins();
      this.#loss.forget();
      this.#runner.look(this.#lookHz);
      this.#accepted.keep(this.#read.file, this.#read.text);
    }
    if (event.kind !== 'engine') return;
    if (event.event.kind === 'highlight') {
      this.#highlighted = event.event.on ? event.event.fixture : undefined;
    }
    this.keeping.hear(event.event);
    this.#enabled.hear(event.event);
    this.#loss.hear(event.event, this.#read.show, monotonicS());
  }

  /** Goes on from what a supervisor that has died just now had sent, and keeps what this one sends. */
  #resume(found: FoundLook | undefined): void {
    const { show } = this.#read;
    if (found !== undefined) {
      this.#lights.goOn(show, found.streams, UNNOTED_PACKETS);
      const { universes, levels: out, losingForS, groundLevels } = found;
      const before = { show: { universes }, out, losingForS, groundLevels };
      this.#beats.take(takeOverLevels(show, before, this.keeping.cue));
      this.options.onEvent({ kind: 'light-resumed' });
    }
    this.#keepLook(show);
  }

  /** Where patch, outputs and inputs are the same and the light is live. @returns what there is against it */
  #goOn(next: ReadShow): Promise<readonly string[] | BySafeLook> | BySafeLook {
    const because = sendsOtherwise(this.#read.show, next.show) ?? this.#beats.unsteady();
    return because === undefined ? this.#goOnWith(next) : { because };
  }

  async #goOnWith(next: ReadShow): Promise<readonly string[] | BySafeLook> {
    const { show } = next;
    const { packed = packShow(show) } = next;
    const levels = await prepareLevels(show, cueIn(show, this.#read.show, this.keeping.cue), () =>
      this.#beats.next(),
    );
    const runner = this.#runner;
    const because = this.#end.isUnderWay ? 'the daemon was ending' : this.#beats.unsteady();
    if (because !== undefined) return { because };
    const fault = await runner.takeShow({ ...next, packed }, () => {
      this.#swapKept(show);
      const before = this.phase;
      const beats = this.#beats;
      if (beats.isSteady()) {
        beats.take(followCue(goOnWith(levels, beats.levels), this.keeping.cue, true));
      } else {
        // Lost in the meantime: it goes on fading, as after any reload.
        beats.takeOver(show, this.keeping.cue);
      }
      this.#read = next;
      void this.#orders.take(show);
      this.desk.take(show);
      this.desk.tellAnew();
      this.#loss.keep(show);
      this.#teller.goOn(show);
      if (!isFixtureName(show, this.#highlighted ?? '')) this.#endHighlight('reload');
      this.#tellReload(before);
      this.#lights.goOnAs(show);
      this.#accepted.keep(next.file, next.text);
    });
    if (fault === undefined) return [];
    const problems = [`its engine could not go on with it: ${fault}.`];
    return runner.refusesShow ? problems : asPassing(problems);
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
      fadeOut: this.#beats.fadeOut,
      safeWithinS: this.#beats.safeWithinS,
      isEnding: () => this.#end.isUnderWay,
    });
    if (problems.length > 0) return problems;
    const old = this.#runner;
    // Its levels end with it; the fade of the new show begins at what was last sent.
    const before = this.phase;
    this.#swapKept(show);
    this.#beats.takeOver(show, this.keeping.cue);
    this.#loss.forget();
    this.#enabled.drop();
    this.desk.take(show);
    this.#read = next;
    this.#teller.take(show);
    this.#endHighlight('reload');
    this.#tellReload(before);
    this.#keepLook(show);
    this.#runner = runner;
    // The ports are the old engine's until it has gone.
    await old.end();
    await this.#orders.take(show);
    if (!this.#finished && !this.#end.isUnderWay) this.#runner.start();
    return [];
  }

  /** What people have changed goes on with another show; the cue that is on only if that has it. */
  #swapKept(show: Show): void {
    const was = this.#read.show.cues[this.keeping.cue]?.name;
    this.keeping.swap(show);
    const on = show.cues[this.keeping.cue]?.name;
    if (was === undefined || was === on) return;
    this.options.onEvent({ kind: 'cue-gone', cue: was, on });
  }

  #tellReload(before: FallbackPhase): void {
    if (before !== this.phase) this.options.onEvent(reloadEvent(before, this.phase));
  }

  /** From now on what is sent is kept for a successor. */
  #keepLook(show: Show): void {
    this.#continuity.keep(show.universes, this.lighting?.streams ?? [], hasGround(show));
  }

  /** Work that must not delay the light. */
  #afterBeat(nowS: number, sinceS: number): void {
    this.#teller.cue(this.keeping.cue);
    this.#keptStops.look(nowS);
    this.#orders.beat();
    this.#otherMachine.look(nowS);
    const problems = this.#reloading.stale.due(nowS);
    if (problems !== undefined) this.options.onEvent({ kind: 'show-stale', problems });
    this.#service?.beat(nowS, sinceS, () => this.lighting?.hasSent() === true);
  }

  async #finish(): Promise<void> {
    if (this.#finished) return;
    this.#finished = true;
    this.#beats.stop();
    this.#end.beginNow();
    this.#beats.letGo();
    this.#continuity.end();
    this.desk.giveWay();
    this.#orders.close();
    await this.#lights.end();
    await this.#runner.end();
    await this.keeping.end();
    await this.#accepted.end();
    this.#ownership.release();
    this.options.onEvent({ kind: 'stopped' });
  }
}
