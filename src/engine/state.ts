import { type AttributeClass, attributeClass } from '../fixtures/attributes.js';
import { compileHead, type Head, type PanTilt, panTilt } from '../fixtures/kinematics.js';
import type { Channel } from '../fixtures/profile.js';
import { type Curve, compileCurve } from '../mapping/curve.js';
import { createPresence, type Presence } from '../mapping/presence.js';
import { compileRoutes, type RouteTable } from '../protocols/osc/route.js';
import { createRetreat, type Retreat } from '../safety/retreat.js';
import { createWatch, type Observation, type Watch } from '../safety/watchdog.js';
import {
  type FixturePlan,
  type MappingPlan,
  type Show,
  SLOTS_PER_UNIVERSE,
  type ZonePlan,
} from '../show/model.js';
import { moves, safeIsDark, safeLook } from '../show/safe-look.js';
import { type Area, compileArea } from '../stage/area.js';
import { type Confidence, createConfidence } from '../tracking/confidence.js';
import type { Sighting } from '../tracking/sighting.js';
import { createEstimate, createTrack, type Estimate, type Track } from '../tracking/track.js';
import { type Counters, createCounters } from './counters.js';
import type { EngineEvent } from './events.js';

/**
 * All that the engine knows between two ticks. It belongs to `step`, which updates it in place: a
 * copy of some thousand numbers forty times a second would be garbage for the collector to find in
 * the middle of a fade.
 */
export interface EngineState {
  readonly show: Show;
  /** Of the last tick, monotonic seconds; undefined before the first. */
  lastTickS: number | undefined;
  readonly routes: readonly RouteTable[];
  /** Tracker identifier to performer and place among their trackers. */
  readonly wearers: ReadonlyMap<string, Wearer>;
  readonly held: HeldPosition[];
  readonly performers: readonly PerformerState[];
  readonly zones: readonly ZoneState[];
  readonly bindings: readonly Binding[];
  readonly lights: readonly Light[];
  readonly levels: Uint8Array;
  readonly counters: Counters;
  /** When anybody was last heard, monotonic seconds. */
  lastHeardS: number | undefined;
  feedSilent: boolean;
  /** The report in hand; one for all, so that none is allocated a report. */
  readonly sighting: Sighting;
  /** Filled anew in each tick. */
  events: EngineEvent[];
}

export interface Wearer {
  readonly performer: number;
  readonly tracker: number;
}

/** A position whose time tag lies ahead, kept until then. */
export interface HeldPosition {
  readonly dueS: number;
  readonly wearer: Wearer;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly quality: number;
}

export interface PerformerState {
  readonly name: string;
  readonly track: Track;
  readonly estimate: Estimate;
  readonly confidence: Confidence;
  readonly watch: Watch;
  readonly observation: Observation;
  /** When one of their trackers was last heard, believed or not, monotonic seconds. */
  lastHeardS: number | undefined;
  /** Their light may follow the estimate in this tick: live or returning. */
  follows: boolean;
}

export interface ZoneState {
  readonly plan: ZonePlan;
  readonly area: Area;
  /** One a performer. */
  readonly presences: readonly Presence[];
}

/** One mapping as one performer drives it. */
export interface Binding {
  readonly mapping: MappingPlan;
  readonly performer: number;
  readonly curve: Curve;
  /** Presence in this zone drives it; undefined for a follow mapping. */
  readonly presence: Presence | undefined;
  /** 0..1 after curve and fade. */
  level: number;
  /** Order in which bindings rose from 0, for LTP: the latest is the largest. */
  roseAt: number;
}

/** One fixture at run time. Arrays have an entry for each channel of its profile. */
export interface Light {
  readonly plan: FixturePlan;
  readonly channels: readonly Channel[];
  readonly classes: readonly AttributeClass[];
  readonly moves: boolean;
  readonly safeIsDark: boolean;
  readonly intensity: number;
  readonly retreat: Retreat;
  /** Physical values that the mappings want, those that go out, and those when the last move began. */
  readonly live: Float64Array;
  readonly out: Float64Array;
  readonly from: Float64Array;
  readonly views: readonly View[];
  /** Layers in the order in which they rose. */
  readonly layers: Layer[];
  readonly follow: Follow | undefined;
}

/** What one performer does to one fixture. */
export interface View {
  readonly performer: number;
  /** The head follows this performer: its retreat stands for the trust. */
  readonly governs: boolean;
  /** Wanted intensity, physical. */
  level: number;
  /** 0 = the safe value only, 1 = `level` only. */
  trust: number;
}

/** The values of one binding on one fixture. */
export interface Layer {
  readonly binding: Binding;
  readonly view: View;
  readonly channels: readonly number[];
  readonly values: readonly number[];
}

export interface Follow {
  readonly head: Head;
  readonly performer: number;
  readonly offset: { readonly x: number; readonly y: number; readonly z: number };
  readonly aim: PanTilt;
}

export function createEngine(show: Show): EngineState {
  const performers = show.performers.map(
    (plan): PerformerState => ({
      name: plan.name,
      track: createTrack(show.tracking.track, plan.trackers.length),
      estimate: createEstimate(),
      confidence: createConfidence(),
      watch: createWatch(),
      observation: {
        seen: false,
        feedSilent: false,
        silentForS: Number.POSITIVE_INFINITY,
        jumped: false,
        outsideM: 0,
        confidence: 0,
        settled: true,
      },
      lastHeardS: undefined,
      follows: false,
    }),
  );
  const zones = show.zones.map(
    (plan): ZoneState => ({
      plan,
      area: compileArea(plan.area),
      presences: performers.map(() => createPresence()),
    }),
  );
  const bindings = show.mappings.flatMap(mapping => bind(mapping, zones));
  return {
    show,
    lastTickS: undefined,
    routes: show.inputs.map(input => {
      const compiled = compileRoutes(input.routes);
      if (!compiled.ok) throw new Error('an engine was made of a show that has not been checked');
      return compiled.table;
    }),
    wearers: new Map(
      show.performers.flatMap((plan, performer) =>
        plan.trackers.map((id, tracker): [string, Wearer] => [id, { performer, tracker }]),
      ),
    ),
    held: [],
    performers,
    zones,
    bindings,
    lights: show.fixtures.map((plan, index) => createLight(plan, index, bindings)),
    levels: safeLook(show),
    counters: createCounters(),
    lastHeardS: undefined,
    feedSilent: false,
    sighting: { tracker: 0, timeS: 0, arrivalS: 0, x: 0, y: 0, z: 0, quality: 1 },
    events: [],
  };
}

function bind(mapping: MappingPlan, zones: readonly ZoneState[]): Binding[] {
  const common = { mapping, level: 0, roseAt: 0 };
  if (mapping.kind === 'follow') {
    const { performer } = mapping;
    return [{ ...common, performer, curve: compileCurve('linear'), presence: undefined }];
  }
  const curve = compileCurve(mapping.curve);
  return mapping.performers.map(performer => ({
    ...common,
    performer,
    curve,
    presence: zones[mapping.zone]?.presences[performer],
  }));
}

function createLight(plan: FixturePlan, index: number, bindings: readonly Binding[]): Light {
  const { channels } = plan.profile;
  const mine = bindings.filter(
    ({ mapping }) =>
      mapping.values.some(value => value.fixture === index) ||
      (mapping.kind === 'follow' && mapping.heads.includes(index)),
  );
  const follow = followOf(plan, index, mine);
  const views = [...new Set(mine.map(binding => binding.performer))].map(
    (performer): View => ({
      performer,
      governs: follow?.performer === performer,
      level: 0,
      trust: 0,
    }),
  );
  return {
    plan,
    channels,
    classes: channels.map(channel => attributeClass(channel.attribute)),
    moves: moves(plan),
    safeIsDark: safeIsDark(plan),
    intensity: channels.findIndex(channel => attributeClass(channel.attribute) === 'intensity'),
    retreat: createRetreat(),
    live: Float64Array.from(plan.base),
    out: Float64Array.from(plan.safe),
    from: Float64Array.from(plan.safe),
    views,
    layers: mine.map((binding): Layer => {
      const values = binding.mapping.values.filter(value => value.fixture === index);
      const view = views.find(one => one.performer === binding.performer);
      if (view === undefined) throw new Error('a layer without a view');
      return {
        binding,
        view,
        channels: values.map(value => value.channel),
        values: values.map(value => value.value),
      };
    }),
    follow,
  };
}

function followOf(
  plan: FixturePlan,
  index: number,
  bindings: readonly Binding[],
): Follow | undefined {
  for (const { mapping } of bindings) {
    if (mapping.kind !== 'follow' || !mapping.heads.includes(index) || plan.head === undefined) {
      continue;
    }
    const { performer, offset } = mapping;
    return { head: compileHead(plan.head), performer, offset, aim: panTilt() };
  }
  return undefined;
}

/** Levels of one universe of the show, by its index. */
export function universeLevels(levels: Uint8Array, universe: number): Uint8Array {
  return levels.subarray(universe * SLOTS_PER_UNIVERSE, (universe + 1) * SLOTS_PER_UNIVERSE);
}
