import { whoAsked } from '../engine/events/event-words.js';
import type { EngineEvent } from '../engine/events/events.js';
import type { EngineView, PerformerView } from '../engine/view.js';
import { wantsLive } from '../safety/watchdog.js';
import { type Labels, labelsOf } from '../show/model/labels.js';
import type { PerformerPlan, Show } from '../show/model/model.js';
import type { ConfidencePart } from '../tracking/confidence.js';
import { Actions } from './causes/actions.js';
import { AfterGap, type RecordingGap } from './causes/after-gap.js';
import {
  CAUSES,
  ENGINE_ENDS,
  type EngineEnd,
  isForAll,
  isOfThePlace,
  type LossCause,
} from './causes/causes.js';
import { type HeldLight, heldAt } from './causes/held-light.js';
import { causeNow, goOn, type Loss, Waits } from './causes/loss-causes.js';
import { HandOverTimes } from './measures/hand-over-times.js';
import { happeningOf, isMinor } from './measures/happenings.js';
import { KeepOutTimes } from './measures/keep-out-times.js';
import { OutsideBeams, type WhereIs } from './measures/outside-beam.js';
import {
  createPerformerStatistics,
  extend,
  type PerformerStatistics,
} from './measures/performer-statistics.js';
import { PlaceGrid, PlaceNames } from './measures/places.js';
import { TickTimes } from './measures/tick-times.js';
import { TrackerChanges } from './measures/tracker-changes.js';
import { TrackerSilences } from './measures/tracker-silences.js';
import { CueTimes } from './words/cue-times.js';
import { OffStageTimes } from './words/off-stage-times.js';

/** An engine whose ticks are added up; its show may differ from that of the engine before. */
export interface SessionRun {
  readonly show: Show;
  readonly view: EngineView;
  readonly tickHz: number;
}

/** Below this confidence tracking counts as weak: the light still follows, but may not for long. */
const WEAK_BELOW = 0.6;
/** A day of a show that flickers; more is left out of the list, not of the sums. */
const MOST_KEPT = 20_000;
/** A loss within this time after a jump was caused by it, seconds. */
const JUMPED_WITHIN_S = 0.5;

/**
 * Adds up what happened, tick by tick: in a recording or in a rehearsal. The show may be changed while it
 * runs; performers go by their name, so that the whole evening has one set of figures.
 */
export class SessionStatistics {
  readonly performers: PerformerStatistics[] = [];
  readonly losses: Loss[] = [];
  readonly actions = new Actions();
  readonly cues = new CueTimes();
  readonly offStage = new OffStageTimes(name => this.#labels.exit(name));
  readonly handOvers = new HandOverTimes();
  readonly keepOuts = new KeepOutTimes();
  readonly outside = new OutsideBeams();
  readonly grid: PlaceGrid;
  readonly ticks = new TickTimes();
  /** Whether reports count: false outside the time asked for. */
  isCounting = true;
  readonly silences = new TrackerSilences();
  readonly #afterGap = new AfterGap();
  readonly #changes = new TrackerChanges(name => this.#label(name));
  /** Trackers whose battery was low in the last event about it. */
  readonly lowBatteries = new Map<string, Extract<EngineEvent, { kind: 'battery' }>>();
  /** For how long each fixture could not reach its point, seconds. */
  readonly unreachedS = new Map<string, number>();
  readonly #unreached = new Set<string>();
  /** Who stopped the performers that are stopped, as far as that is known. */
  readonly #stoppedBy = new Map<string, string>();
  readonly #tail: (() => void)[] = [];
  readonly #open = new Map<string, Loss>();
  /** Performers whose loss is a loss of all light, and ends when that ends. */
  readonly #held = new Set<string>();
  readonly #waits = new Waits();
  /** Statistics of the performers of the engine that runs, in its order. */
  #present: PerformerStatistics[] = [];
  #names: PlaceNames;
  #labels: Labels;
  #tickHz = 0;
  /** The engine before handed over its state, and this one has not ticked yet. */
  #wentOn = false;
  /** When anybody was last followed: that is the end of the show, monotonic seconds. */
  lastFollowedS: number | undefined;
  #lastS: number | undefined;
  /** The first tick of the engine that runs. */
  #beganS: number | undefined;

  /**
   * @param show the first show: the map of places begins with its stage
   * @param held when all light was not as the engine asked
   * @param whereIs where performers really are; undefined: where their trackers put them
   */
  constructor(
    public show: Show,
    private readonly held: readonly HeldLight[] = [],
    private readonly whereIs?: WhereIs,
  ) {
    this.grid = new PlaceGrid(show.bounds);
    this.#names = new PlaceNames(show);
    this.#labels = this.#labelsOf(show);
  }

  /**
   * An engine begins. Nobody has been followed since the last tick of the one before, unless the light went on.
   * @param how how the engine before ended
   */
  begin(
    { show, view, tickHz }: SessionRun,
    atS: number,
    how: EngineEnd | 'went on' = 'crashed',
  ): void {
    const present = show.performers.map(one => this.#statisticsOf(one));
    if (this.#lastS !== undefined) {
      this.#withoutEngine(this.#lastS, atS, how, present);
    }
    this.#afterGap.engineBegins();
    this.show = show;
    this.#present = present;
    this.#wentOn = how === 'went on';
    this.#names = new PlaceNames(show);
    this.#labels = this.#labelsOf(show);
    this.#tickHz = tickHz;
    this.grid.cover(show.bounds);
    this.keepOuts.engineEnds(this.#lastS ?? atS);
    this.outside.dark(this.#lastS ?? atS);
    this.#lastS = undefined;
    this.#unreached.clear();
    if (how !== 'went on') {
      this.#beganS = undefined;
      this.silences.restart(atS);
    }
    view.onReport((performer, tracker, { x, y }, verdict) => {
      const one = present[performer];
      if (one === undefined) return;
      if (this.isCounting) {
        one.reports += 1;
        if (view.performers[performer]?.phase === 'off') one.offStageReports += 1;
        one.verdicts[verdict] = (one.verdicts[verdict] ?? 0) + 1;
        one.trackers.set(tracker, (one.trackers.get(tracker) ?? 0) + 1);
        this.grid.report(x, y, verdict === 'gated');
      }
      if (verdict === 'reacquired') one.before = { x: one.x, y: one.y, atS: this.#lastS ?? atS };
      if (verdict === 'accepted' || verdict === 'started' || verdict === 'reacquired') {
        one.x = x;
        one.y = y;
      }
    });
  }

  /** Times that the recording lacks. */
  get gaps(): readonly RecordingGap[] {
    return this.#afterGap.gaps;
  }

  /**
   * The recording lacks a time in which the engine ran: what was under way ends at its beginning, and nothing about a
   * performer counts until their state is known again.
   */
  gap(gap: RecordingGap): void {
    const { fromS, toS } = gap;
    for (const open of [...this.#open.values()]) this.#found(open, fromS);
    this.#held.clear();
    this.keepOuts.engineEnds(fromS);
    this.outside.dark(fromS);
    this.silences.restart(toS);
    this.#afterGap.begin(
      gap,
      this.#present.map(({ name }) => name),
    );
    this.#lastS = toS;
  }

  /** Events from before the time asked for, whose effects may still hold in it. */
  before(events: readonly EngineEvent[]): void {
    this.offStage.told(events);
    this.#noteStops(events);
    for (const event of events) if (event.kind === 'battery') this.#battery(event);
  }

  #battery(event: Extract<EngineEvent, { kind: 'battery' }>): void {
    if (event.low) this.lowBatteries.set(event.tracker, event);
    else this.lowBatteries.delete(event.tracker);
  }

  /** @param sentS when the levels were handed over, monotonic seconds; undefined if that is not known */
  ticked(
    view: EngineView,
    nowS: number,
    told: readonly EngineEvent[],
    sentS: number | undefined,
  ): void {
    const events = this.#afterGap.happened(told, nowS);
    this.#noteStops(events);
    this.#beganS ??= nowS;
    const dtS = nowS - (this.#lastS ?? nowS);
    this.#lastS = nowS;
    this.ticks.ticked(nowS, dtS, this.#tickHz, sentS);
    const held = heldAt(this.held, nowS);
    // A fade that nobody asked for is part of the show; the one at its end is not.
    const anybody = held?.cause !== 'shutdown' && view.performers.some(({ follows }) => follows);
    if (anybody) this.#countTail(nowS);
    view.performers.forEach((performer, index) => {
      const one = this.#present[index] as PerformerStatistics;
      const { phase, cause, seen } = performer;
      const known = this.#afterGap.look(performer, nowS);
      if (known === 'unknown') return;
      if (known === 'lost' && one.firstS !== undefined) {
        const why = causeNow(view, performer) ?? 'tracker-silent';
        this.#lose(one, nowS, why, undefined, this.#whyOf(one.name, why));
      }
      this.#goOn(view, performer, one, held, nowS, dtS);
      if (held === undefined && cause === 'confidence-low') this.#doubt(performer, dtS);
      if (seen) one.firstS ??= nowS;
      if (phase === 'off') {
        // Counted separately (`offStage`): nobody had to be followed. An engine that has just begun has not heard them yet.
        extend(one.stretches, phase, nowS);
        return;
      }
      if (!seen) return;
      const sums = anybody ? one : one.tail;
      sums.sinceS += dtS;
      sums.confidenceS += dtS * performer.confidence.value;
      if (wantsLive(phase) && held === undefined) one.followedS += dtS;
      extend(one.stretches, held === undefined || phase === 'waiting' ? phase : 'held', nowS);
      this.#stoppedFromTheStart(one, performer, nowS);
      // Long after a loss the position says nothing about the place; nor does a loss that would have come anywhere.
      if (phase === 'safe' || phase === 'waiting' || Number.isNaN(one.x)) return;
      if (cause !== undefined && !isOfThePlace(cause)) return;
      const weak = phase === 'losing' || performer.confidence.value < WEAK_BELOW;
      const { x, y } = one;
      one.path.add(nowS, x, y);
      this.#place(anybody, () => this.grid.hold(x, y, dtS, weak));
    });
    for (const fixture of this.#unreached) {
      this.unreachedS.set(fixture, (this.unreachedS.get(fixture) ?? 0) + dtS);
    }
    for (const event of events) this.#event(view, event, held, nowS);
    this.cues.ticked(view, events, nowS);
    this.offStage.ticked(view, events, nowS);
    this.handOvers.ticked(view, nowS, dtS);
    if (held === undefined) this.outside.ticked(view, nowS, dtS, this.whereIs);
    else this.outside.dark(nowS);
    this.#wentOn = false;
  }

  /** For a whole scene, whose end is no end of an evening: the time in which nobody was followed counts too. */
  countToEnd(): void {
    if (this.#lastS !== undefined) this.#countTail(this.#lastS);
  }

  /** Continues or ends losses. What holds all light holds everybody's, whatever the engine says meanwhile. */
  #goOn(
    view: EngineView,
    performer: PerformerView,
    one: PerformerStatistics,
    held: HeldLight | undefined,
    nowS: number,
    dtS: number,
  ): void {
    const open = this.#open.get(performer.name);
    const waitsS = this.#waits.sinceS(performer, nowS);
    if (performer.phase === 'off') {
      // Whatever holds the light, nobody has to be followed.
      this.#held.delete(performer.name);
      if (open !== undefined) this.#found(open, nowS);
      return;
    }
    if (held !== undefined) {
      if (open !== undefined || performer.seen) this.#held.add(performer.name);
      if (open !== undefined) goOn(open.steps, held.cause, nowS, held.why);
      else if (performer.seen && performer.phase !== 'waiting') {
        // While everything stood still no tick noted when that began.
        this.#lose(one, Math.max(held.fromS, nowS - dtS), held.cause, undefined, held.why);
      }
      return;
    }
    const wasHeld = this.#held.delete(performer.name);
    if (open === undefined) return;
    if (wasHeld && wantsLive(performer.phase)) {
      this.#found(open, nowS);
      return;
    }
    const cause = causeNow(view, performer);
    // The light came back while one engine took over from the other: no event says so.
    if (this.#wentOn && wantsLive(performer.phase) && cause === undefined) {
      this.#found(open, nowS);
      return;
    }
    if (waitsS !== undefined) goOn(open.steps, 'waiting', waitsS);
    else if (cause !== undefined && performer.phase !== 'rearming') {
      goOn(open.steps, cause, nowS, this.#whyOf(performer.name, cause));
    }
  }

  /** Adds up which part their confidence is low for; once it is good again the least part counts for nothing. */
  #doubt({ name, confidence: { reason, value } }: PerformerView, dtS: number): void {
    const open = this.#open.get(name);
    if (open === undefined || reason === undefined) return;
    if (value >= this.show.watchdog.confidenceLow.below) return;
    open.doubtsS.set(reason, (open.doubtsS.get(reason) ?? 0) + dtS);
  }

  #found(open: Loss, nowS: number): void {
    open.untilS = nowS;
    this.#open.delete(open.performer);
  }

  /** Enters something into the map now, or once it is known that the show was not over. */
  #place(now: boolean, enter: () => void): void {
    if (now) enter();
    else if (this.#tail.length < MOST_KEPT) this.#tail.push(enter);
  }

  /** Notes what the supervisor did, or anything else that took light somewhere safe. */
  acted(atS: number, what: string, minor = false): void {
    this.actions.add(atS, what, minor);
  }

  #countTail(nowS: number): void {
    this.lastFollowedS = nowS;
    for (const enter of this.#tail) enter();
    this.#tail.length = 0;
    for (const one of this.performers) {
      one.sinceS += one.tail.sinceS;
      one.confidenceS += one.tail.confidenceS;
      one.tail.sinceS = 0;
      one.tail.confidenceS = 0;
    }
  }

  #event(view: EngineView, event: EngineEvent, held: HeldLight | undefined, nowS: number): void {
    const isTold = event.kind === 'tracker-contact' && this.silences.isTold(event);
    const what = isTold ? undefined : happeningOf(event, this.#labels);
    if (event.kind === 'tracker-contact') {
      this.silences.contact(event, isOnly(view, event.performer), nowS, this.#beganS ?? nowS);
    }
    if (what !== undefined) this.acted(this.#beganOf(event, nowS), what, isMinor(event));
    switch (event.kind) {
      case 'performer':
        // While something holds all light, that is in the list, and not the phases.
        if (held === undefined) this.#phase(view, event, nowS);
        return;
      case 'tracker-frozen':
        this.silences.frozen(event, isOnly(view, event.performer), nowS);
        return;
      case 'tracker':
        this.silences.moved(event.tracker, nowS);
        this.#changes.moved(event, nowS);
        return;
      case 'battery':
        this.#battery(event);
        return;
      case 'keep-out':
        this.keepOuts.hear(this.#labels.fixture(event.fixture), event, nowS);
        return;
      case 'reach':
        this.#unreached[event.reachable ? 'delete' : 'add'](this.#labels.fixture(event.fixture));
        return;
      default:
        return;
    }
  }

  /** When a tracker's silence began: with its last report, some time before the event. */
  #beganOf(event: EngineEvent, nowS: number): number {
    if (event.kind !== 'tracker-contact') return nowS;
    if (event.heard) return nowS - (event.heardForS ?? 0);
    const last = this.silences.beganOf(event.tracker);
    return last ?? nowS;
  }

  #noteStops(events: readonly EngineEvent[]): void {
    for (const event of events) {
      if (event.kind !== 'stopped' && event.kind !== 'resumed') continue;
      const who = event.kind === 'stopped' ? whoAsked(event) : undefined;
      for (const name of event.performers) {
        if (event.kind === 'stopped' && event.cause !== 'restored') this.#countStop(name);
        const had = whoAsked({ by: event.byOf?.[name] });
        if (had !== undefined) this.#stoppedBy.set(name, had);
        else if (who !== undefined) this.#stoppedBy.set(name, who);
        // A stop from before this engine may be repeated without saying who asked.
        else if (event.cause !== 'restored') this.#stoppedBy.delete(name);
      }
    }
  }

  #countStop(name: string): void {
    const one = this.#present.find(performer => performer.name === name);
    if (one !== undefined && this.isCounting) one.stops += 1;
  }

  #whyOf(performer: string, cause: LossCause): string {
    const who = cause === 'operator-stop' ? this.#stoppedBy.get(performer) : undefined;
    return who === undefined ? CAUSES[cause] : `stopped by ${who}`;
  }

  /** A performer who was stopped before this engine began never becomes live, and so is never lost: count it here. */
  #stoppedFromTheStart(
    one: PerformerStatistics,
    { phase, stopped }: PerformerView,
    nowS: number,
  ): void {
    if (phase !== 'waiting' || !stopped || this.#open.has(one.name)) return;
    this.#lose(one, nowS, 'operator-stop', undefined, this.#whyOf(one.name, 'operator-stop'));
  }

  #phase(view: EngineView, event: Extract<EngineEvent, { kind: 'performer' }>, nowS: number): void {
    const { performer: name, from, to } = event;
    const index = view.performers.findIndex(one => one.name === name);
    const one = this.#present[index];
    if (one === undefined || this.#afterGap.has(name)) return;
    const open = this.#open.get(name);
    const reason = view.performers[index]?.confidence.reason;
    const lost = this.#changes.causeOf(event, reason, nowS);
    if (wantsLive(from) && !wantsLive(to) && lost !== undefined && open === undefined) {
      const { cause } = lost;
      const isJump = cause === 'jumped' && !Number.isNaN(one.x);
      const stop = cause === 'operator-stop' ? this.#whyOf(name, cause) : lost.why;
      const why = isJump ? `${lost.why} to ${this.#names.of(one.x, one.y)}` : stop;
      this.#lose(one, nowS, cause, reason, why);
      // A stop, or a loss for everybody, already has a line of its own.
      if (!isForAll(cause) && cause !== 'operator-stop') {
        this.actions.ofLight(nowS, one.label, `light began to fade to its safe values (${why})`);
      }
    } else if (to === 'safe' && from === 'losing') {
      this.actions.ofLight(nowS, one.label, 'light at its safe values');
    } else if (wantsLive(to) && open !== undefined) {
      this.#found(open, nowS);
      this.actions.ofLight(nowS, one.label, 'light began to return');
    }
  }

  #lose(
    one: PerformerStatistics,
    atS: number,
    cause: LossCause,
    reason: ConfidencePart | undefined,
    why: string,
  ): void {
    const { name } = one;
    // Their reports put them elsewhere; they were lost where they had been before.
    const isJump = cause === 'jumped' || (cause === 'confidence-low' && reason === 'elsewhere');
    const before = isJump && one.before !== undefined ? one.before : undefined;
    const isRecent = before !== undefined && atS - before.atS <= JUMPED_WITHIN_S;
    const { x, y } = isRecent ? before : one;
    const place = Number.isNaN(x) ? 'nobody knows where' : this.#names.of(x, y);
    const frozen = this.silences.frozenOf(name);
    const steps = [{ atS, cause, why }];
    const loss: Loss = {
      performer: name,
      atS,
      untilS: undefined,
      steps,
      frozen,
      reason,
      doubtsS: new Map(),
      x,
      y,
      place,
    };
    this.#open.set(name, loss);
    if (this.losses.length < MOST_KEPT) this.losses.push(loss);
    if (Number.isNaN(x) || !isOfThePlace(cause)) return;
    const anybody = this.lastFollowedS === atS;
    this.#place(anybody, () => this.grid.loss(x, y));
  }

  /** Between the last tick of an engine and the first of the next. */
  #withoutEngine(
    fromS: number,
    toS: number,
    how: EngineEnd | 'went on',
    next: readonly PerformerStatistics[],
  ): void {
    for (const one of this.#present) {
      const open = this.#open.get(one.name);
      if (!next.includes(one)) {
        // Somebody who isn't in the new show is not lost from now on.
        if (open !== undefined) open.untilS = fromS;
        this.#open.delete(one.name);
        continue;
      }
      const last = one.stretches.at(-1);
      if (how !== 'went on' && last?.phase === 'off') {
        // They were off stage: there is nothing to lose.
        extend(one.stretches, 'off', toS);
        continue;
      }
      if (how === 'went on' || one.firstS === undefined) continue;
      one.tail.sinceS += toS - fromS;
      if (open === undefined && last !== undefined && last.phase !== 'waiting') {
        const { cause, why } = ENGINE_ENDS[how];
        this.#lose(one, fromS, cause, undefined, why);
      }
      one.stretches.push({ phase: 'no engine', fromS, toS });
    }
  }

  /** The statistics of the performer with this name, or new ones. */
  #statisticsOf(plan: PerformerPlan): PerformerStatistics {
    const known = this.performers.find(one => one.name === plan.name);
    if (known !== undefined) return Object.assign(known, { label: plan.label });
    const one = createPerformerStatistics(plan);
    this.performers.push(one);
    return one;
  }

  /** The labels of the running show; a performer keeps the label that they had last. */
  #labelsOf(show: Show): Labels {
    return { ...labelsOf(show), performer: name => this.#label(name) };
  }

  #label(name: string): string {
    return this.performers.find(one => one.name === name)?.label ?? name;
  }
}

function isOnly({ trackers }: EngineView, wearer: string): boolean {
  return trackers.filter(({ performer }) => performer === wearer).length < 2;
}
