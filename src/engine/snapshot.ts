import type { Phase } from '../safety/watchdog.js';
import type { Condition } from '../safety/watchdog-table.js';
import type { Confidence } from '../tracking/confidence.js';
import type { Counters } from './values/counters.js';
import type {
  AimView,
  ChoiceView,
  EngineView,
  FixtureView,
  HazardView,
  Horizon,
  PerformerView,
  ReportView,
  TrackerView,
} from './view.js';

/** What people see of the engine: plain data, safe to keep, to print and to send as JSON. */
export interface Snapshot {
  readonly atS: number;
  readonly feedSilent: boolean;
  readonly orders: OrdersSnapshot;
  readonly performers: readonly PerformerSnapshot[];
  readonly trackers: readonly TrackerView[];
  /** Highest presence of those who are believed. */
  readonly zones: readonly { readonly name: string; readonly presence: number }[];
  readonly fixtures: readonly FixtureSnapshot[];
  readonly counters: Counters;
}

export interface OrdersSnapshot {
  /** Everybody is stopped; and those who are, by name. */
  readonly allStopped: boolean;
  readonly stopped: readonly string[];
  readonly deskLost: boolean;
  /** Hazardous outputs, and whether each is enabled. */
  readonly hazards: readonly HazardView[];
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
  readonly lastReport: ReportView;
  /** Probability of each motion regime, by name. */
  readonly regimes: Readonly<Record<string, number>>;
  readonly silentForS: number | undefined;
  /** How far their light is predicted ahead of their last believed report, and for what; never heard: undefined. */
  readonly horizon: Horizon | undefined;
  /** Zones they are in, by name; none for somebody who isn't believed. */
  readonly zones: readonly string[];
}

export interface FixtureSnapshot {
  readonly name: string;
  /** Physical value of each attribute as it goes out. */
  readonly values: Readonly<Record<string, number>>;
  /** If the head follows somebody. */
  readonly aim: AimView | undefined;
  /** If the head chooses whom it follows. */
  readonly choice?: Pick<ChoiceView, 'rule' | 'performer' | 'next' | 'pinned'>;
  /** The keep-out that it is dark for, if any. */
  readonly keepOut?: string;
}

/** Made when somebody looks, not in every tick. */
export function snapshot(view: EngineView): Snapshot {
  return {
    atS: view.atS ?? 0,
    feedSilent: view.feedSilent,
    orders: {
      allStopped: view.allStopped,
      stopped: view.performers.filter(({ stopped }) => stopped).map(({ name }) => name),
      deskLost: view.deskLost,
      hazards: view.hazards.map(one => ({ ...one })),
    },
    performers: view.performers.map((one, index) => performerSnapshot(view, one, index)),
    trackers: view.trackers.map(one => ({ ...one })),
    zones: view.zones.map(({ name, presences }) => ({
      name,
      presence: Math.max(
        0,
        ...presences.map(({ level }, index) => (view.performers[index]?.follows ? level : 0)),
      ),
    })),
    fixtures: view.fixtures.map(fixtureSnapshot),
    counters: { ...view.counters, drops: { ...view.counters.drops } },
  };
}

function performerSnapshot(
  { zones }: EngineView,
  performer: PerformerView,
  index: number,
): PerformerSnapshot {
  const { estimate, seen, follows } = performer;
  return {
    name: performer.name,
    phase: performer.phase,
    cause: performer.cause,
    trust: performer.trust,
    confidence: { ...performer.confidence },
    x: estimate.x,
    y: estimate.y,
    z: estimate.z,
    speedMps: Math.hypot(estimate.vx, estimate.vy, estimate.vz),
    sigmaM: estimate.sigmaHorizontalM,
    lastReport: { ...performer.lastReport },
    regimes: performer.regimes,
    silentForS: seen ? performer.silentForS : undefined,
    horizon: seen ? performer.horizon : undefined,
    zones: zones
      .filter(({ presences }) => follows && (presences[index]?.level ?? 0) > 0)
      .map(({ name }) => name),
  };
}

function fixtureSnapshot({ plan, values, aim, choice, keepOut }: FixtureView): FixtureSnapshot {
  return {
    name: plan.name,
    values: Object.fromEntries(
      plan.profile.channels.map(({ attribute }, index) => [attribute, values[index] ?? 0]),
    ),
    aim,
    ...(choice === undefined ? {} : { choice: onWhom(choice) }),
    ...(keepOut === undefined ? {} : { keepOut }),
  };
}

function onWhom({ rule, performer, next, pinned }: ChoiceView) {
  return { rule, performer, next, pinned };
}
