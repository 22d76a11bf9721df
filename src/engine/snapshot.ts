import { aimError } from '../fixtures/pointing.js';
import type { PolePlan } from '../fixtures/pole.js';
import type { EnabledClass } from '../protocols/osc/orders.js';
import type { GateState } from '../safety/enable.js';
import type { RetreatStage } from '../safety/retreat.js';
import type { Phase } from '../safety/watchdog.js';

import type { Condition } from '../safety/watchdog-table.js';
import { toDegrees } from '../stage/units.js';
import type { Confidence } from '../tracking/confidence.js';
import { noiseShareOf } from '../tracking/scatter.js';
import type { Verdict } from '../tracking/sighting.js';
import { regimeShares, SLOT, TRACKER, type Track } from '../tracking/track.js';
import { pointOf, throwTo } from './aim.js';
import type { Counters } from './counters.js';
import type { EngineState, Light, Wearer } from './state.js';

/** What people see of the engine: plain data, safe to keep, to print and to send as JSON. */
export interface Snapshot {
  readonly atS: number;
  readonly feedSilent: boolean;
  readonly orders: OrdersSnapshot;
  readonly performers: readonly PerformerSnapshot[];
  readonly trackers: readonly TrackerSnapshot[];
  /** Highest presence of those who are believed. */
  readonly zones: readonly { readonly name: string; readonly presence: number }[];
  readonly fixtures: readonly FixtureSnapshot[];
  readonly counters: Counters;
}

/** A tracker of the show, worn or spare. */
export interface TrackerSnapshot {
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
  /** How far its reports are taken to scatter, declared or learnt, metres; worn ones only. */
  readonly noiseM: number | undefined;
}

export interface OrdersSnapshot {
  /** Everybody is stopped; and who is, by name. */
  readonly allStopped: boolean;
  readonly stopped: readonly string[];
  readonly deskLost: boolean;
  /** Hazardous outputs, and whether each is enabled. */
  readonly hazards: readonly {
    readonly fixture: string;
    readonly hazard: EnabledClass;
    readonly gate: GateState;
  }[];
}

export interface PerformerSnapshot {
  readonly name: string;
  readonly phase: Phase;
  readonly cause: Condition | undefined;
  readonly trust: number;
  readonly confidence: Confidence;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly speedMps: number;
  readonly sigmaM: number;
  readonly silentForS: number | undefined;
  /** How far their light is predicted ahead of their last believed report, and what of; never heard: undefined. */
  readonly horizon: Horizon | undefined;
  /** What the track made of the last report, and why. */
  readonly lastReport: {
    readonly verdict: Verdict;
    /** From where it was expected to where it was, and the variance of that along one axis. */
    readonly innovationM: number;
    readonly varianceM2: number;
    /** Normalised innovation squared; with 2 degrees of freedom, 2 on average. */
    readonly nis: number;
    /** Probability that it was no outlier. */
    readonly belief: number;
  };
  /** Probability of each motion regime, by name. */
  readonly regimes: Readonly<Record<string, number>>;
  /** Zones in which they are, by name; none for who isn't believed. */
  readonly zones: readonly string[];
}

export interface FixtureSnapshot {
  readonly name: string;
  /** Physical value of each attribute as it goes out. */
  readonly values: Readonly<Record<string, number>>;
  /** Of a head that follows somebody. */
  readonly aim: AimSnapshot | undefined;
}

export interface AimSnapshot {
  readonly performer: string;
  /** Where its light is between live and safe; `turning` where that is no loss, but a turn in the dark. */
  readonly stage: RetreatStage;
  readonly turning: boolean;
  readonly reachable: boolean;
  /** How it passes its pole just now. */
  readonly pole: PolePlan;
  /** Between the beam as it is sent and the point to aim at, degrees. */
  readonly behindDeg: number;
  /** How far beyond the moment of light the performer is predicted, seconds. */
  readonly lagS: number;
  readonly throwM: number;
  /** Across the beam at the performer, metres, and the factor on the intensity, where its mapping holds them. */
  readonly beamM: number | undefined;
  readonly intensityFactor: number | undefined;
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

/** Made when somebody looks, not in every tick. */
export function snapshot(state: EngineState): Snapshot {
  return {
    atS: state.lastTickS ?? 0,
    feedSilent: state.feedSilent,
    orders: {
      allStopped: state.orders.allStopped,
      stopped: state.performers.filter(one => one.observation.stopped).map(one => one.name),
      deskLost: state.orders.deskLost,
      hazards: state.hazards.map(({ fixture, hazard, gate }) => ({ fixture, hazard, gate })),
    },
    performers: state.performers.map((performer, index) => {
      const { estimate, track, watch, observation } = performer;
      return {
        name: performer.name,
        phase: watch.phase,
        cause: watch.cause,
        trust: watch.trust,
        confidence: { ...performer.confidence },
        x: estimate.x,
        y: estimate.y,
        z: estimate.z,
        speedMps: Math.hypot(estimate.vx, estimate.vy, estimate.vz),
        sigmaM: estimate.sigmaHorizontalM,
        lastReport: { ...track.last },
        regimes: regimeShares(track),
        silentForS: observation.seen ? observation.silentForS : undefined,
        horizon: observation.seen ? horizonOf(state, track) : undefined,
        zones: state.zones
          .filter(zone => performer.follows && (zone.presences[index]?.level ?? 0) > 0)
          .map(zone => zone.plan.name),
      };
    }),
    trackers: [...state.wearers.values()].map(one => trackerSnapshot(state, one)),
    zones: state.zones.map(zone => ({
      name: zone.plan.name,
      presence: Math.max(
        0,
        ...zone.presences.map((one, index) => (state.performers[index]?.follows ? one.level : 0)),
      ),
    })),
    fixtures: state.lights.map(light => ({
      name: light.plan.name,
      values: Object.fromEntries(
        light.channels.map((channel, index) => [channel.attribute, light.out[index] ?? 0]),
      ),
      aim: aimSnapshot(state, light),
    })),
    counters: { ...state.counters, drops: { ...state.counters.drops } },
  };
}

function trackerSnapshot(
  state: EngineState,
  { id, performer, place, heardS, battery }: Wearer,
): TrackerSnapshot {
  const wearer = state.performers[performer];
  const at = place * TRACKER.count;
  return {
    id,
    performer: wearer?.name,
    silentForS: heardS === undefined ? undefined : (state.lastTickS ?? 0) - heardS,
    outlierShare: wearer?.track.trackers[at + TRACKER.outlierShare],
    quality: wearer?.track.trackers[at + TRACKER.quality],
    battery,
    noiseM: wearer && noiseShareOf(wearer.track, place) * wearer.track.options.horizontal.whiteM,
  };
}

function aimSnapshot(state: EngineState, light: Light): AimSnapshot | undefined {
  const { follow, pointing, retreat, turning } = light;
  if (follow === undefined || pointing === undefined) return undefined;
  const { optics, lagS, performer } = follow;
  const at = pointOf(follow);
  return {
    performer: state.performers[performer]?.name ?? '',
    stage: retreat.stage,
    turning,
    reachable: pointing.reachable,
    pole: pointing.pass.plan,
    behindDeg: toDegrees(aimError(pointing, at.x, at.y, at.z)),
    lagS,
    throwM: throwTo(pointing, at.x, at.y, at.z),
    beamM: optics?.options.beam && optics.diameterM,
    intensityFactor: optics?.options.compensate && optics.factor,
  };
}

function horizonOf({ lastTickS, show }: EngineState, { numbers }: Readonly<Track>): Horizon {
  const arrivedS = numbers[SLOT.arrivedS] as number;
  const sensorS = arrivedS - (numbers[SLOT.acceptedS] as number);
  const waitS = (lastTickS ?? 0) - arrivedS;
  const outputS = show.tracking.outputLatencyS;
  return { sensorS, waitS, outputS, totalS: sensorS + waitS + outputS };
}
