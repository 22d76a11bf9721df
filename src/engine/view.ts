import type { Presence } from '../mapping/presence.js';
import type { EnabledClass } from '../protocols/osc/orders.js';
import type { GateState } from '../safety/enable.js';
import type { Phase } from '../safety/watchdog.js';
import type { Condition } from '../safety/watchdog-table.js';
import type { Show } from '../show/model/model.js';
import type { SignalPlan } from '../signals/plan.js';
import type { Confidence } from '../tracking/confidence.js';
import { noiseShareOf } from '../tracking/noise.js';
import { predict } from '../tracking/predict.js';
import type { Estimate, Verdict } from '../tracking/sighting.js';
import { regimeShares, SLOT, TRACKER, type Track } from '../tracking/track.js';
import type { Engine } from './engine.js';
import { type FixtureView, fixtureView } from './fixture-view.js';
import { type ChannelWhy, explainTick } from './light/explain.js';
import { createExplaining } from './light/explaining.js';
import type { WatchedPerformer } from './people/watch.js';
import type { Tracker } from './reports/roster.js';
import type { ReportListener, TrackedPerformer } from './reports/tracks.js';
import type { Counters } from './values/counters.js';

export type { AimView, CandidateView, ChoiceView, FixtureView } from './fixture-view.js';
export type { ChannelWhy, WishWhy } from './light/explain.js';
export type { ReportListener } from './reports/tracks.js';

/**
 * What an engine shows: everything that recorder, reports, checks and pages read, and nothing that they could change.
 * It always shows the end of the last tick: copy what you want to keep.
 */
export interface EngineView {
  readonly show: Show;
  /** Of the last tick, monotonic seconds; undefined before the first. */
  readonly atS: number | undefined;
  /** Of all universes, 512 each in the order of the show. */
  readonly levels: Readonly<Uint8Array>;
  readonly counters: Readonly<Counters>;
  readonly feedSilent: boolean;
  /** When anybody was last heard, or, until then, of the first tick; monotonic seconds. */
  readonly lastHeardS: number | undefined;
  /** Positions that wait for the time of their time tag. */
  readonly heldCount: number;
  /** Everybody is stopped. */
  readonly allStopped: boolean;
  readonly deskLost: boolean;
  /** undefined in a show without cues. */
  readonly cue: CueView | undefined;
  /** In the order of the show, like trackers (spares last), zones and fixtures. */
  readonly performers: readonly PerformerView[];
  readonly trackers: readonly TrackerView[];
  readonly zones: readonly ZoneView[];
  readonly fixtures: readonly FixtureView[];
  readonly mappings: readonly MappingView[];
  readonly hazards: readonly HazardView[];
  readonly inputs: readonly InputView[];
  /** Calls back for each report from now on, as soon as the performer's track has it. */
  readonly onReport: (listener: ReportListener) => void;
  readonly signals: readonly SignalView[];
  readonly conditions: readonly ConditionView[];
  /** From the next tick on `why` explains its values. */
  readonly askWhy: () => void;
  /** For the last tick; empty if nobody asked before it. */
  readonly why: readonly ChannelWhy[];
}

export interface SignalView {
  readonly name: string;
  readonly plan: SignalPlan;
  /** The range it may be in, in the unit of its plan: one number while it is known. */
  readonly least: number;
  readonly greatest: number;
  /** What it is, or was when it was last known. */
  readonly kept: number;
}

export interface ConditionView {
  readonly name: string;
  readonly truth: 'no' | 'unknown' | 'yes';
}

/** The cue that is on, or coming. */
export interface CueView {
  readonly name: string;
  readonly label: string;
  /** Place in the show, from 0. */
  readonly index: number;
  /** The one before it; undefined until there has been one. */
  readonly before: string | undefined;
  /** How far the crossfade to it has come, 0..1. */
  readonly share: number;
}

export interface PerformerView {
  readonly name: string;
  readonly phase: Phase;
  /** Why they aren't live. */
  readonly cause: Condition | undefined;
  /** From safe values only (0) to live values only (1). */
  readonly trust: number;
  /** Their light follows them: they are live or returning. */
  readonly follows: boolean;
  readonly stopped: boolean;
  /** Known to be off stage: absent, not lost. */
  readonly offStage: boolean;
  /** They were heard at least once: what follows means something. */
  readonly seen: boolean;
  /** At the moment at which the light of the tick arrives. */
  readonly estimate: Readonly<Estimate>;
  readonly confidence: Readonly<Confidence>;
  readonly silentForS: number;
  readonly lastReport: ReportView;
  /** Probability of each motion regime, by name. */
  readonly regimes: Readonly<Record<string, number>>;
  readonly horizon: Horizon;
  /** By their tracking alone they would be live: they are, or an order holds their light. */
  readonly isTracked: boolean;
  /** Where they will be at another moment than that of the light; false before they were heard. */
  readonly predict: (atS: number, out: Estimate) => boolean;
}

/** What the track made of a report, and why. */
export interface ReportView {
  readonly verdict: Verdict;
  /** From where the report was expected to where it was, and the variance of that along one axis. */
  readonly innovationM: number;
  readonly varianceM2: number;
  /** Normalised innovation squared; with 2 degrees of freedom, 2 on average. */
  readonly nis: number;
  /** Association probability: that it was no outlier. */
  readonly association: number;
}

/** From the moment at which the last believed report was measured to that of its light, seconds. */
export interface Horizon {
  /** In the sensor and the network, until it arrived; as declared, or by its own stamp. */
  readonly sensorS: number;
  /** Since then: for the tick, or for want of a newer one. */
  readonly waitS: number;
  /** From the tick to the light, as declared. A head that lags adds its own. */
  readonly outputS: number;
  readonly totalS: number;
}

/** A tracker of the show, worn or spare. */
export interface TrackerView {
  readonly id: string;
  /** Who wears it; undefined for a spare. */
  readonly performer: string | undefined;
  /** undefined: never heard. */
  readonly silentForS: number | undefined;
  /** Share of its reports of late that were outliers, and what it says of itself, 0..1; worn ones only. */
  readonly outlierShare: number | undefined;
  readonly quality: number | undefined;
  /** Charge that it last said to have left, 0..1; undefined where the feed doesn't say. */
  readonly battery: number | undefined;
  /** How far its reports scatter, as declared or learnt, metres; worn ones only. */
  readonly noiseM: number | undefined;
}

export interface ZoneView {
  readonly name: string;
  /** One for each performer; those who aren't believed keep theirs. */
  readonly presences: readonly Readonly<Presence>[];
}

/** What a mapping does now; the highest, if it has several levels. */
export interface MappingView {
  /** How far the cue lets it act, 0..1. */
  readonly acts: number;
  readonly level: number;
  /** How far it acts on the light, 0..1: its level, reduced by the trust in its performers. */
  readonly shows: number;
  /** An operator has it off. */
  readonly off: boolean;
}

/** An input, and the clock of its tracking system. */
export interface InputView {
  readonly name: string;
  /** Our monotonic time minus the stamp, by the fastest recent reports, seconds; NaN without stamps. */
  readonly clockOffsetS: number;
}

/** A hazardous output, and whether it is enabled. */
export interface HazardView {
  readonly fixture: string;
  readonly hazard: EnabledClass;
  readonly gate: GateState;
  /** Who holds the enable of its class, in words, one entry for each hold. */
  readonly heldBy: readonly string[];
}

export function viewOf(engine: Engine): EngineView {
  const { show, counters, tracks, watched, orders, reception, patch } = engine;
  const drivers = drivenOf(engine);
  return {
    show,
    get atS() {
      return engine.lastTickS;
    },
    levels: patch.levels,
    counters,
    get feedSilent() {
      return watched.feedToldSilent;
    },
    get lastHeardS() {
      return tracks.lastHeardS ?? watched.beganS;
    },
    get heldCount() {
      return reception.held.length;
    },
    get allStopped() {
      return orders.allStopped;
    },
    get deskLost() {
      return orders.deskLost;
    },
    get cue() {
      return cueView(engine);
    },
    performers: show.performers.map((_, index) => performerView(engine, index)),
    trackers: engine.roster.trackers.map(tracker => trackerView(engine, tracker)),
    zones: engine.presences.zones.map(({ plan, presences }) => ({ name: plan.name, presences })),
    fixtures: show.fixtures.map((_, light) => fixtureView(engine, light)),
    mappings: show.mappings.map((_, index) => mappingView(engine, index, drivers)),
    hazards: engine.hazards.all.map(output => ({
      fixture: output.fixture,
      hazard: output.hazard,
      get gate() {
        return output.gate;
      },
      get heldBy() {
        return [...orders.enables[output.hazard].hands.values()].map(({ by }) => by);
      },
    })),
    inputs: show.inputs.map(({ name }, index) => ({
      name,
      get clockOffsetS() {
        return reception.clocks[index]?.offsetS ?? Number.NaN;
      },
    })),
    signals: show.signals.signals.map((plan, index) => signalView(engine, plan, index)),
    conditions: show.signals.conditions.map(({ name }, index) => ({
      name,
      get truth() {
        const { surely, possibly } = engine.signals.network.conditions;
        if (surely[index] === 1) return 'yes';
        return possibly[index] === 1 ? 'unknown' : 'no';
      },
    })),
    askWhy: () => {
      engine.explaining ??= createExplaining(engine.lights);
    },
    get why() {
      return engine.explaining === undefined ? [] : explainTick(engine, engine.explaining);
    },
    onReport: listener => {
      tracks.listeners.push(listener);
    },
  };
}

function cueView({ cues: { plans, on, before, share } }: Engine): CueView | undefined {
  const plan = plans[on];
  if (plan === undefined) return undefined;
  const { name, label } = plan;
  return { name, label, index: on, before: plans[before]?.name, share };
}

function mappingView(engine: Engine, index: number, drivers: () => Driven): MappingView {
  const { cues } = engine;
  return {
    get acts() {
      return cues.inCue[index] as number;
    },
    get level() {
      let level = 0;
      for (const one of drivers()[index] ?? []) level = Math.max(level, one.level());
      return level;
    },
    get shows() {
      let shows = 0;
      for (const one of drivers()[index] ?? []) shows = Math.max(shows, one.shows());
      return shows;
    },
    get off() {
      return cues.off[index] === 1;
    },
  };
}

/** For each mapping its parts that have a level. */
type Driven = readonly (readonly { level(): number; shows(): number }[])[];

/** Worked out when somebody first looks. */
function drivenOf({ show, mappings: { bindings, drives }, watched }: Engine): () => Driven {
  let known: Driven | undefined;
  return () => {
    if (known !== undefined) return known;
    const all = show.mappings.map((): Driven[number][number][] => []);
    for (const binding of bindings) {
      const believed = watched.believed[binding.whose] as WatchedPerformer;
      all[binding.of]?.push({
        level: () => binding.level,
        shows: () => binding.level * believed.watch.trust,
      });
    }
    for (const { of, lanes, believed } of drives) {
      for (const lane of lanes) {
        all[of]?.push({
          level: () => lane.level,
          shows: () => Math.max(lane.level * believed.watch.trust, lane.shownSure),
        });
      }
    }
    known = all;
    return all;
  };
}

function signalView(engine: Engine, plan: SignalPlan, index: number): SignalView {
  const { out, kept } = engine.signals.network;
  return {
    name: plan.name,
    plan,
    get least() {
      return out.lo[index] as number;
    },
    get greatest() {
      return out.hi[index] as number;
    },
    get kept() {
      return kept[index] as number;
    },
  };
}

function performerView(engine: Engine, index: number): PerformerView {
  const tracked = engine.tracks.performers[index] as TrackedPerformer;
  const watched = engine.watched.performers[index] as WatchedPerformer;
  const { stopped } = engine.orders;
  const { name, estimate, confidence } = tracked;
  const { watch } = watched;
  return {
    name,
    estimate,
    confidence,
    get phase() {
      return watch.phase;
    },
    get cause() {
      return watch.cause;
    },
    get trust() {
      return watch.trust;
    },
    get follows() {
      return watched.follows;
    },
    get stopped() {
      return stopped[index] === 1;
    },
    get offStage() {
      return watched.offStage;
    },
    get seen() {
      return tracked.seen;
    },
    get silentForS() {
      return tracked.silentForS;
    },
    get lastReport() {
      return tracked.track.last;
    },
    get regimes() {
      return regimeShares(tracked.track);
    },
    get horizon() {
      const { outputLatencyS } = engine.show.tracking;
      return horizonOf(tracked.track, engine.lastTickS ?? 0, outputLatencyS);
    },
    get isTracked() {
      return isTracked(engine, index);
    },
    predict: (atS, out) =>
      tracked.seen && predict(tracked.track, atS, out, engine.lastTickS ?? atS),
  };
}

/** The light does not follow somebody who is stopped or waits for the desk, but their tracking goes on. */
function isTracked({ watched, orders, tracks, show }: Engine, index: number): boolean {
  const { follows, offStage } = watched.performers[index] as WatchedPerformer;
  if (follows || offStage) return follows;
  if (orders.stopped[index] !== 1 && !orders.needsDesk) return false;
  const tracked = tracks.performers[index] as TrackedPerformer;
  const { trackerSilent, confidenceLow } = show.watchdog;
  return (
    tracked.seen &&
    tracked.silentForS < trackerSilent.afterS &&
    tracked.confidence.value >= confidenceLow.below &&
    !tracked.clockGone &&
    tracked.fresh > 0
  );
}

function horizonOf({ numbers }: Readonly<Track>, nowS: number, outputS: number): Horizon {
  const arrivedS = numbers[SLOT.arrivedS] as number;
  const sensorS = arrivedS - (numbers[SLOT.acceptedS] as number);
  const waitS = nowS - arrivedS;
  return { sensorS, waitS, outputS, totalS: sensorS + waitS + outputS };
}

function trackerView(engine: Engine, tracker: Tracker): TrackerView {
  const { tracks, reception } = engine;
  const { id, index } = tracker;
  const wearer = () => tracks.performers[tracker.performer];
  const number = (slot: number) => wearer()?.track.trackers[tracker.place * TRACKER.count + slot];
  return {
    id,
    get performer() {
      return wearer()?.name;
    },
    get silentForS() {
      const silentForS = (engine.lastTickS ?? 0) - (reception.heardS[index] as number);
      return silentForS < Number.POSITIVE_INFINITY ? silentForS : undefined;
    },
    get outlierShare() {
      return number(TRACKER.outlierShare);
    },
    get quality() {
      return number(TRACKER.quality);
    },
    get battery() {
      const charge = reception.battery[index] as number;
      return Number.isNaN(charge) ? undefined : charge;
    },
    get noiseM() {
      const track = wearer()?.track;
      return track && noiseShareOf(track, tracker.place) * track.options.horizontal.whiteM;
    },
  };
}
