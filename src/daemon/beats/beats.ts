import type { LightDelays } from '../../live/light-delays.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import { stepFallback, timeToSafeS } from '../../safety/fallback.js';
import { beginLimiterBeat, type CutOff, stepOutputLimiter } from '../../safety/output-limiter.js';
import type { SupervisorCondition } from '../../safety/watchdog-table.js';
import type { Show } from '../../show/model/model.js';
import type { DeskLink } from '../desk/link.js';
import type { EngineLoss } from '../engine/engine-loss.js';
import type { EngineRunner } from '../engine/engine-runner.js';
import { followCue } from '../levels/cue-levels.js';
import { FadeOut } from '../levels/fade-out.js';
import { OutgoingCues } from '../levels/outgoing-cues.js';
import { followComeback, isSettledSafe, notWithTheRest, rejoin } from '../levels/rejoin.js';
import {
  countLoss,
  createShowLevels,
  followDesk,
  heldFixtures,
  keptDarkHeads,
  layDesk,
  layWire,
  type ShowLevels,
  stepBlend,
  takeSection,
} from '../levels/show-levels.js';
import { takeOverLevels } from '../levels/take-over.js';
import { monotonicS } from '../machine/clock.js';
import type { OperatorKeeping } from '../memory/keeping.js';
import { AfterBeat } from './after-beat.js';
import { type Beat, BeatClock, type OpenBeat } from './beat-clock.js';
import type { CleanEnd } from './clean-end.js';
import type { Continuity } from './continuity.js';
import { HoldNews } from './hold-news.js';
import { lightsEvent } from './lights-event.js';
import { type LossTimes, lossTimes, shortenFades } from './loss-time.js';
import type { PairChange } from './pair-light.js';
import { type ShowLighting, tickHzOf } from './show-lighting.js';
import type { SupervisorEvent } from './supervisor-options.js';

/** How long the clean end may take beyond the fade: the flash limit may hold a lit safe look for a second. */
const STOP_GRACE_S = 1.5;

/** Why the light is not steady, for the answer to a reload; constants, because each section asks. */
const UNWELL: Readonly<Record<SupervisorCondition, string>> = {
  shutdown: 'the daemon was ending',
  'engine-dead': 'the engine was just restarting',
  'engine-late': 'the engine was just starting, or late',
};
const STOOD_STILL = 'the daemon had just stood still';
const NOT_LIVE: Readonly<Record<Exclude<FallbackPhase, 'live'>, string>> = {
  losing: 'it was on its way there',
  safe: 'it was there already',
  rearming: 'it was there already',
  returning: 'it was only just coming back from there',
};
const OUTPUT_RETURNED = 'an output had just come back';
const BLENDS = 'it was just being taken over from the other machine';

export interface BeatsOptions {
  readonly lights: ShowLighting;
  readonly keeping: OperatorKeeping;
  readonly continuity: Continuity;
  readonly loss: EngineLoss;
  readonly end: CleanEnd;
  readonly desk: Pick<DeskLink, 'heard' | 'tend'>;
  readonly delays: LightDelays;
  /** Of the show that runs. */
  runner(): EngineRunner;
  /** A beat has been sent: time for other work. @param sinceS since the beat before, seconds */
  onBeat(nowS: number, sinceS: number): void;
  /** All light is at its safe look, or has had its time: the daemon ends. */
  onEnd(): void;
  onEvent(event: SupervisorEvent): void;
}

/**
 * The light from one packet to the next: what the engine says while it is on time, and the way to the safe look when
 * it is not. Sends at the rate of the outputs, whatever the engine does.
 */
export class Beats {
  levels: ShowLevels;
  readonly fadeOut = new FadeOut();
  #silentAfterS: number;
  #periodS: number;
  #timer: NodeJS.Timeout | undefined;
  readonly #clock = new BeatClock();
  #openBeat: OpenBeat | undefined;
  /** Since when light is on its way back after an outage, monotonic seconds. */
  #rejoinsSinceS: number | undefined;
  readonly #flashNews = new HoldNews();
  readonly #keepOutNews = new HoldNews();
  readonly #afterBeat = new AfterBeat();
  readonly #outgoing = new OutgoingCues();
  #finished = false;

  constructor(
    show: Show,
    private readonly options: BeatsOptions,
  ) {
    this.levels = createShowLevels(show);
    this.#periodS = 1 / tickHzOf(show);
    this.#silentAfterS = show.watchdog.engineSilent.afterS;
  }

  get periodS(): number {
    return this.#periodS;
  }

  /** Makes this the light, and goes on from it. */
  take(levels: ShowLevels): void {
    const { show } = levels;
    this.levels = levels;
    this.#openBeat = undefined;
    this.#periodS = 1 / tickHzOf(show);
    this.#silentAfterS = show.watchdog.engineSilent.afterS;
  }

  /** Goes through the safe look of another show, from whatever is lit; a loss that the engine has begun keeps its time. */
  takeOver(show: Show, cue: number): void {
    const before = this.levels;
    const untilS = this.#clock.countsUntilS(monotonicS(), this.#periodS, this.#silentAfterS);
    const times = before.fallback.phase === 'live' ? this.#lossTimes(untilS) : undefined;
    this.take(takeOverLevels(show, before, cue));
    shortenFades(this.levels, times);
  }

  /** Time stands still until the first beat. */
  startClock(nowS: number): void {
    this.#clock.start(nowS);
  }

  /** @returns when the next beat has been sent */
  next(): Promise<void> {
    return this.#afterBeat.next();
  }

  /** Nothing is sent from now on. */
  stop(): void {
    this.#finished = true;
    clearTimeout(this.#timer);
  }

  /** Ends all waiting for a beat or for the safe look. */
  letGo(): void {
    this.fadeOut.end();
    this.#afterBeat.tell();
  }

  /** How long the crossfade of a cue still takes, seconds; 0: none is under way. */
  crossfadeLeftS(nowS: number): number {
    return this.#outgoing.leftS(nowS);
  }

  /** Time by which all light is at the safe look, wherever it is now; the flash limit may hold a lit one. */
  get safeWithinS(): number {
    return timeToSafeS(this.levels.plan) + STOP_GRACE_S;
  }

  /**
   * A section of a frame has come. While all is well it is sent before the next one has been computed; everything
   * else is done for the whole light at once, when the last section has come.
   */
  takeSection(index: number): void {
    if (this.#finished) return;
    const { lights, keeping } = this.options;
    keeping.noteCue(this.#runner.cue);
    const { sections } = this.levels;
    const section = sections[index];
    if (section === undefined) return;
    const isLast = index === sections.length - 1;
    if (!this.isSteady()) {
      if (isLast) this.beat();
      return;
    }
    const open = this.#openBeat;
    const beat = open === undefined || index <= open.section ? this.#beginBeat() : open;
    beat.section = index;
    const { nowS, dtS, cutOff } = beat;
    followCue(this.levels, keeping.cue, true);
    this.#outgoing.follow(this.levels, nowS);
    takeSection(this.levels, section, this.#runner.levels, dtS, cutOff, this.#engineRests);
    lights.output?.sendUniverses(section.firstUniverse, section.endUniverse, nowS);
    if (!isLast) return;
    this.options.delays.add(this.#runner.position, monotonicS());
    lights.output?.endBeat(nowS);
    this.#endBeat(beat, true);
    this.#await(1.5);
  }

  /** The light only has to do what the engine says. */
  isSteady(): boolean {
    return this.unsteady() === undefined;
  }

  /** What else is happening to the light, in plain words; undefined: nothing. */
  unsteady(): string | undefined {
    const { fallback, blend, comeback, outages } = this.levels;
    const nowS = monotonicS();
    const condition = this.#condition(nowS);
    if (condition !== undefined) return UNWELL[condition];
    if (this.#clock.hasStalled(nowS, this.#periodS, this.#silentAfterS)) return STOOD_STILL;
    if (fallback.phase !== 'live') return NOT_LIVE[fallback.phase];
    if (this.fadeOut.isUnderWay) return NOT_LIVE.losing;
    // A reload that began before the return may have dropped the way back: one more beat says that it is over.
    const rejoins = comeback !== undefined || this.#rejoinsSinceS !== undefined;
    if (rejoins || outages.hasReturned) return OUTPUT_RETURNED;
    if (blend !== undefined) return BLENDS;
    return this.options.lights.unsettled(nowS);
  }

  /** The first section of a frame. If the last one doesn't come, a whole beat does: the timer still runs. */
  #beginBeat(): OpenBeat {
    const beat = this.#nextBeat();
    const cutOff = this.#cutOff(beat.nowS);
    beginLimiterBeat(this.levels.limiter, beat.nowS);
    followDesk(this.levels, this.options.desk.heard, beat.dtS);
    this.options.lights.output?.beginBeat(this.levels.wire);
    const { nowS, dtS, sinceS, stalled } = beat;
    this.#openBeat = { nowS, dtS, sinceS, stalled, cutOff, section: 0 };
    return this.#openBeat;
  }

  #cutOff(nowS: number): CutOff | undefined {
    const cutOff = this.options.lights.output?.cutOff();
    return cutOff === undefined ? undefined : this.levels.outages.look(cutOff, nowS);
  }

  #nextBeat(): Beat {
    const beat = this.#clock.next(this.#periodS, this.#silentAfterS);
    if (beat.stalled) this.options.onEvent({ kind: 'stood-still', forS: beat.sinceS });
    this.#openBeat = undefined;
    return beat;
  }

  /** A whole beat at once. */
  beat(): void {
    if (this.#finished) return;
    const beat = this.#nextBeat();
    const { nowS, dtS, sinceS, stalled } = beat;
    const runner = this.#runner;
    const { lights, keeping } = this.options;
    const before = this.levels.fallback.phase;
    const condition = this.#condition(nowS);
    const runs = condition === undefined && !stalled;
    const fadesOut = runs && this.fadeOut.isUnderWay;
    const well = runs && !fadesOut;
    this.levels = followCue(this.levels, keeping.cue, well);
    this.#outgoing.follow(this.levels, nowS);
    const { fallback, plan, out, wire } = this.levels;
    followDesk(this.levels, this.options.desk.heard, dtS);
    const sent = this.levels.outages.hasReturned ? Uint8Array.from(out) : undefined;
    stepFallback(fallback, plan, runner.levels, well, dtS, out, this.#falls);
    if (before !== fallback.phase) {
      // Fades missed in a stall are not caught up: the loss has as much time left as before it.
      const countsS = stalled ? nowS - sinceS : nowS;
      if (before === 'live') {
        shortenFades(this.levels, this.#lossTimes(countsS));
      }
      const except = notWithTheRest(this.levels);
      const why = { condition, stalledS: stalled ? sinceS : undefined, fadesOut, except };
      this.options.onEvent(lightsEvent(before, fallback.phase, why, runner, nowS));
    }
    if (sent !== undefined) this.options.onEvent(rejoin(this.levels, sent));
    this.#followComeback({ nowS, dtS });
    for (const change of lights.stepPair(this.levels, nowS, this.#clock.hears(nowS))) {
      this.options.onEvent({ kind: 'pair', ...change, ...this.#stopsLeft(change) });
    }
    stepBlend(this.levels, dtS);
    const { length: universes } = this.levels.show.universes;
    layDesk(this.levels, this.#engineRests, 0, universes);
    stepOutputLimiter(this.levels.limiter, out, dtS, nowS, this.#cutOff(nowS));
    layWire(this.levels, 0, universes);
    lights.output?.send(wire, nowS);
    this.#endBeat(beat, runs);
    const settled = isSettledSafe(this.levels) && lights.output?.shared.isBehind !== true;
    this.fadeOut.step(settled, dtS);
    if (this.options.end.step(settled, dtS)) {
      this.options.onEnd();
      return;
    }
    // A frame comes a period after the last one; only if it is late does the beat go on without it.
    this.#await(runs ? 1.5 : 1);
  }

  #followComeback({ nowS, dtS }: Pick<Beat, 'nowS' | 'dtS'>): void {
    const { comeback } = this.levels;
    if (comeback !== undefined) this.#rejoinsSinceS ??= nowS;
    followComeback(this.levels, dtS, this.#falls);
    if (this.#rejoinsSinceS === undefined || this.levels.comeback !== undefined) return;
    this.options.onEvent({ kind: 'light-rejoined', forS: nowS - this.#rejoinsSinceS });
    this.#rejoinsSinceS = undefined;
  }

  /** The main machine has the light again, and may light whom only this one has stopped. */
  #stopsLeft({ from, to, differs, comesBack }: PairChange): Partial<PairChange> {
    const isTold = (this.levels.show.operator?.main.length ?? 0) > 0;
    if (differs === true && isTold) return { isTold };
    const isStandby = from === 'standing-in' || from === 'standing-by';
    if (!isStandby || to !== 'standing-by' || comesBack === true) return {};
    const { performers, toldByMain } = this.options.keeping.stops;
    const stopped = performers.filter(name => toldByMain?.performers.includes(name) !== true);
    if (stopped.length === 0) return {};
    return isTold ? { stopped, isTold } : { stopped };
  }

  /** Of the light that is out. */
  #lossTimes(nowS: number): LossTimes | undefined {
    return lossTimes([this.levels, ...this.#outgoing.at(nowS)], this.options.loss, nowS);
  }

  #endBeat({ nowS, dtS, sinceS }: Beat, well: boolean): void {
    const { lights, continuity, onBeat, onEvent } = this.options;
    this.#openBeat = undefined;
    this.#afterBeat.tell();
    countLoss(this.levels, dtS);
    const { flash, keptDark } = this.levels.limiter;
    const { held } = flash;
    const late = this.#flashNews.beat(held, nowS, () => heldFixtures(this.levels));
    if (late !== undefined) onEvent({ kind: 'flashes-held', ...late });
    const dark = this.#keepOutNews.beat(keptDark, nowS, () => keptDarkHeads(this.levels));
    if (dark !== undefined) onEvent({ kind: 'keep-out-held', ...dark });
    lights.unite();
    lights.tellOfInterfaces();
    // A desk that was not heard while this process stood still has not been silent.
    if (this.#clock.hears(nowS)) this.options.desk.tend(nowS);
    const { wire, losingForS, ground } = this.levels;
    continuity.write(wire, nowS, losingForS, ground?.levels);
    onBeat(nowS, sinceS);
    this.#runner.tellSafeLook(this.levels.fallback.phase !== 'live');
    if (this.#clock.hears(nowS)) this.#runner.tend(nowS, well);
  }

  #await(periods: number): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.beat(), this.#periodS * periods * 1e3);
  }

  readonly #engineRests = (fixture: number) => this.#runner.rests(fixture);

  readonly #falls = (fixture: number) => this.#runner.falls(fixture);

  get #runner(): EngineRunner {
    return this.options.runner();
  }

  #condition(nowS: number): SupervisorCondition | undefined {
    return this.#runner.condition(this.options.end.isUnderWay, this.#silentAfterS, nowS);
  }
}
