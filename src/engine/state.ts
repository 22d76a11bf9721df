import type { AttributeClass } from '../fixtures/attributes.js';
import type { Pointing } from '../fixtures/pointing.js';
import type { Channel } from '../fixtures/profile.js';
import { type Curve, compileCurve } from '../mapping/curve.js';
import { createPresence, type Presence } from '../mapping/presence.js';
import { compileRoutes, type RouteTable } from '../protocols/osc/route.js';
import type { Retreat } from '../safety/retreat.js';
import { createWatch, type Observation, type Watch } from '../safety/watchdog.js';
import type { FixturePlan, MappingPlan, Show, ZonePlan } from '../show/model.js';
import { safeLook } from '../show/safe-look.js';
import { type Section, sectionsOf } from '../show/sections.js';
import { type Area, compileArea } from '../stage/area.js';
import { createSensorClock, type SensorClock } from '../tracking/clock.js';
import { type Confidence, createConfidence } from '../tracking/confidence.js';
import type { TrackerFit } from '../tracking/options.js';
import {
  createEstimate,
  type Estimate,
  type Sighting,
  type Verdict,
} from '../tracking/sighting.js';
import { createTrack, type Track, type Workbench } from '../tracking/track.js';
import { type Counters, createCounters } from './counters.js';
import type { EngineEvent } from './events.js';
import { type Follow, type Lead, leadOf } from './follow.js';
import { createHazards, type HazardOutput } from './hazards.js';
import { createHeadRoom } from './heads.js';
import { createLight, type LightMaking } from './lights.js';
import type { FollowOptics } from './optics.js';
import { createOrders, type Orders } from './orders.js';
import { type Asks, createAsks, createTable, enterLight, type LightTable } from './table.js';

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
  /** By its identifier, each tracker of the show, and who wears it. */
  readonly wearers: ReadonlyMap<string, Wearer>;
  /** The same, to go through once a tick. */
  readonly trackers: readonly Wearer[];
  /** For each input, the clock of its tracking system on ours. */
  readonly clocks: readonly SensorClock[];
  /** Of each, the steps that the events have told. */
  readonly saidSteps: number[];
  /** For each input 1 where the last report carried no time tag and should have. */
  readonly untagged: Uint8Array;
  readonly held: HeldPosition[];
  readonly performers: readonly PerformerState[];
  readonly zones: readonly ZoneState[];
  /** For each zone [least x, most x, least y, most y] beyond which nobody is present, metres. */
  readonly boxes: Float64Array;
  /** Where each performer is on the plan, for the look at all pairs. */
  readonly planX: Float64Array;
  readonly planY: Float64Array;
  /** For each zone and performer 1 where the presence may be other than nothing. */
  readonly near: Uint8Array;
  /** Those with a level, or with something that drives one: of a house's many, the few to look at. */
  awake: Binding[];
  readonly lights: readonly Light[];
  /** The same lights by the universes that leave together; see show/sections.ts. */
  readonly sections: readonly EngineSection[];
  /** Those of whose attributes beside the intensity something is set. */
  readonly layered: readonly Light[];
  /** Performers as they will be a head's lag later. */
  readonly leads: readonly Lead[];
  /** Times of a turn in the dark; the move takes what it takes. */
  readonly turn: { readonly returnS: number; readonly moveS: number };
  readonly table: LightTable;
  readonly asks: Asks;
  readonly hazards: readonly HazardOutput[];
  readonly orders: Orders;
  readonly trusts: readonly Trust[];
  readonly crowds: readonly Crowd[];
  readonly levels: Uint8Array;
  readonly counters: Counters;
  /** When anybody was last heard, or, until then, of the first tick; monotonic seconds. */
  lastHeardS: number | undefined;
  feedSilent: boolean;
  /** The report in hand; one for all, so that none is allocated a report. */
  readonly sighting: Sighting;
  /** Told of each report when its track has it, where somebody wants to know why; none in a show. */
  readonly reportListeners: ReportListener[];
  /** Filled anew in each tick. */
  events: EngineEvent[];
}

/** @param performer index of whoever wears the tracker */
export type ReportListener = (
  performer: number,
  tracker: string,
  report: Readonly<Sighting>,
  verdict: Verdict,
) => void;

/** Of a spare tracker. */
export const NOBODY = -1;

/** A tracker of the show, and who wears it now. */
export interface Wearer {
  readonly id: string;
  readonly fit: TrackerFit;
  /** Index of the performer, or NOBODY. */
  performer: number;
  /** Place among the trackers of the performer's track. */
  place: number;
  /** Its last position arrived then, monotonic seconds. */
  heardS: number | undefined;
  /** Charge that it last said to have left, 0..1; undefined while it never did. */
  battery: number | undefined;
  /** Since when it could be heard for whoever wears it: the first tick, or an assignment; NaN before. */
  awaitedS: number;
  /** While it is told to be silent: since when it has been heard without a break. */
  steadySinceS: number;
  /** What the events have said. */
  saidSilent: boolean;
  saidLow: boolean;
  saidFrozen: boolean;
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
  /** Another one when their trackers change. */
  track: Track;
  readonly estimate: Estimate;
  readonly confidence: Confidence;
  readonly watch: Watch;
  readonly observation: Observation;
  /** When one of their trackers was last heard, believed or not, monotonic seconds. */
  lastHeardS: number | undefined;
  /** Of the input by which they were last heard, its index. */
  input: number;
  /** What the events have said of a stop. */
  saidStopped: boolean;
  /** Their light may follow the estimate in this tick: live or returning. */
  follows: boolean;
  /** All their light is at its safe values: their levels may begin anywhere. */
  startsAfresh: boolean;
}

export interface ZoneState {
  readonly plan: ZonePlan;
  readonly area: Area;
  /** One a performer. */
  readonly presences: readonly Presence[];
  /** For each performer, what their presence drives. */
  readonly bindings: readonly Binding[][];
}

/** One mapping as one performer drives it. */
export interface Binding {
  readonly mapping: MappingPlan;
  readonly performer: number;
  readonly curve: Curve;
  /** Presence in this zone drives it; undefined for a follow mapping. */
  readonly presence: Presence | undefined;
  /** Without presence it asks for nothing, and needs no look. */
  readonly sleeps: boolean;
  /** 0..1 after curve and fade. */
  level: number;
  /** What it does to fixtures beside their intensity. */
  readonly layers: Layer[];
  /** Which of the asks are its own. */
  firstAsk: number;
  endAsk: number;
}

/** How far one performer is trusted by the fixtures with one fade time: 0 = safe values only, 1 = live only. */
export interface Trust {
  readonly performer: number;
  /** Live to safe, seconds; undefined takes that of the cause. */
  readonly fadeS: number | undefined;
  level: number;
}

/** The trusts on which a fixture depends; fixtures with the same performers and fade share one. */
export interface Crowd {
  readonly trusts: readonly Trust[];
  /** Lowest and highest trust in this tick. */
  lowest: number;
  highest: number;
}

/** One fixture at run time. Arrays have an entry for each channel of its profile. */
export interface Light {
  readonly index: number;
  readonly plan: FixturePlan;
  readonly channels: readonly Channel[];
  readonly classes: readonly AttributeClass[];
  /** Its values are choices, not a scale. */
  readonly stepped: readonly boolean[];
  readonly moves: boolean;
  readonly safeIsDark: boolean;
  /** Index of its intensity channel, -1 where it has none. */
  readonly intensity: number;
  readonly retreat: Retreat;
  /** Physical values that the mappings want and those that go out, views of the table. */
  readonly live: Float64Array;
  readonly out: Float64Array;
  /** Physical values when the last move began. */
  readonly from: Float64Array;
  /** undefined: no mapping touches it. */
  readonly crowd: Crowd | undefined;
  /** Some mapping sets more of it than its intensity. */
  readonly isLayered: boolean;
  /** Its layers whose binding is above 0, in the order in which they rose: the latest lies on top. */
  readonly active: Layer[];
  readonly follow: Follow | undefined;
  /** Leads its pan and tilt; undefined where it has not both. */
  readonly pointing: Pointing | undefined;
  /** Its retreat is no loss, but a turn that must not be seen. */
  turning: boolean;
}

/** What a tick goes through section by section. */
export interface EngineSection {
  readonly lights: readonly Light[];
  /** Their places in the table. */
  readonly indices: Int32Array;
  /** Those with pan and tilt that some mapping touches. */
  readonly heads: readonly MovingHead[];
  /** Those whose intensity follows the distance to their performer. */
  readonly compensated: readonly { readonly index: number; readonly optics: FollowOptics }[];
  readonly hazards: readonly HazardOutput[];
}

/** Of a light with pan and tilt, what its aim needs in every tick. */
export interface MovingHead {
  readonly light: Light;
  readonly pointing: Pointing;
  readonly follow: Follow | undefined;
  readonly index: number;
  /** Its pan and tilt in the table. */
  readonly panAt: number;
  readonly tiltAt: number;
}

/** What one binding sets of one fixture beside its intensity. */
export interface Layer {
  readonly binding: Binding;
  readonly light: Light;
  readonly trust: Trust;
  /** The head follows this performer: its retreat stands for the trust. */
  readonly governs: boolean;
  /** The channels that it sets, and their values at full level. */
  readonly channels: readonly number[];
  readonly values: readonly number[];
}

export function createEngine(show: Show): EngineState {
  const workbench: Workbench = new Map();
  const performers = show.performers.map(
    (plan): PerformerState => ({
      name: plan.name,
      track: createTrack(
        show.tracking.track,
        plan.trackers.length,
        plan.trackers.map(({ fit }) => fit),
        workbench,
      ),
      estimate: createEstimate(),
      confidence: createConfidence(),
      watch: createWatch(show.watchdog),
      observation: {
        seen: false,
        stopped: false,
        deskLost: false,
        feedSilent: false,
        silentForS: Number.POSITIVE_INFINITY,
        clockGone: false,
        jumped: false,
        fresh: 1,
        outsideM: 0,
        confidence: 0,
        settled: true,
      },
      lastHeardS: undefined,
      input: -1,
      saidStopped: false,
      follows: false,
      startsAfresh: true,
    }),
  );
  const zones = show.zones.map(
    (plan): ZoneState => ({
      plan,
      area: compileArea(plan.area),
      presences: performers.map(() => createPresence()),
      bindings: performers.map(() => []),
    }),
  );
  const bindings = show.mappings.flatMap(mapping => bind(mapping, zones));
  const table = createTable(show.fixtures);
  const leads: Lead[] = [];
  const making: LightMaking = {
    table,
    bindings,
    trusts: new Map(),
    crowds: new Map(),
    headRoom: createHeadRoom(show.fixtures.length),
    asks: [],
    estimateOf: (performer, lagS) =>
      lagS === 0
        ? (performers[performer] as PerformerState).estimate
        : leadOf(leads, performer, lagS).estimate,
  };
  const lights = show.fixtures.map((plan, index) => createLight(plan, index, making));
  for (const [index, light] of lights.entries()) enterLight(table, index, light);
  const hazards = createHazards(show, table, lights);
  const wearers = wearersOf(show);
  return {
    show,
    lastTickS: undefined,
    routes: show.inputs.map(input => {
      const compiled = compileRoutes(input.routes);
      if (!compiled.ok) throw new Error('an engine was made of a show that has not been checked');
      return compiled.table;
    }),
    wearers,
    trackers: [...wearers.values()],
    clocks: show.inputs.map(() => createSensorClock()),
    saidSteps: show.inputs.map(() => 0),
    held: [],
    performers,
    zones,
    boxes: Float64Array.from(zones.flatMap(boxOf)),
    planX: new Float64Array(performers.length),
    planY: new Float64Array(performers.length),
    near: new Uint8Array(performers.length * zones.length),
    awake: bindings.filter(binding => !binding.sleeps),
    lights,
    sections: sectionsOf(show).map(section => engineSection(section, lights, hazards, table)),
    layered: lights.filter(light => light.isLayered),
    leads,
    turn: { returnS: show.watchdog.turnS, moveS: 0 },
    table,
    asks: createAsks(making.asks, bindings),
    hazards,
    orders: createOrders(),
    untagged: new Uint8Array(show.inputs.length),
    trusts: [...making.trusts.values()],
    crowds: [...making.crowds.values()],
    levels: safeLook(show),
    counters: createCounters(),
    lastHeardS: undefined,
    feedSilent: false,
    sighting: { tracker: 0, timeS: 0, arrivalS: 0, x: 0, y: 0, z: 0, quality: 1 },
    reportListeners: [],
    events: [],
  };
}

function engineSection(
  { firstUniverse, endUniverse }: Section,
  all: readonly Light[],
  hazards: readonly HazardOutput[],
  table: LightTable,
): EngineSection {
  const isWithin = ({ plan: { universe } }: Light) =>
    universe >= firstUniverse && universe < endUniverse;
  const lights = all.filter(isWithin);
  return {
    lights,
    indices: Int32Array.from(lights, ({ index }) => index),
    heads: lights.flatMap(light => headOf(light, table)),
    compensated: lights.flatMap(({ index, follow, intensity }) =>
      follow?.optics?.options.compensate === undefined || intensity < 0
        ? []
        : [{ index, optics: follow.optics }],
    ),
    hazards: hazards.filter(({ light }) => isWithin(all[light] as Light)),
  };
}

function headOf(light: Light, { start }: LightTable): MovingHead[] {
  const { pointing, follow, index, plan, crowd } = light;
  if (crowd === undefined || pointing === undefined) return [];
  const first = start[index] as number;
  const [panAt, tiltAt] = [first + plan.panChannel, first + plan.tiltChannel];
  return [{ light, pointing, follow, index, panAt, tiltAt }];
}

function createWearer(id: string, fit: TrackerFit, performer: number, place: number): Wearer {
  return {
    id,
    fit,
    performer,
    place,
    heardS: undefined,
    battery: undefined,
    awaitedS: Number.NaN,
    steadySinceS: Number.NaN,
    saidSilent: false,
    saidLow: false,
    saidFrozen: false,
  };
}

function wearersOf({ performers, spares }: Show): Map<string, Wearer> {
  const wearers = new Map<string, Wearer>();
  performers.forEach(({ trackers }, performer) => {
    trackers.forEach(({ id, fit }, place) => {
      wearers.set(id, createWearer(id, fit, performer, place));
    });
  });
  for (const { id, fit } of spares) {
    wearers.set(id, createWearer(id, fit, NOBODY, -1));
  }
  return wearers;
}

/** The zone's box on the plan, wider by feather and hysteresis: a presence is nothing outside of it. */
function boxOf({ area, plan }: ZoneState): [number, number, number, number] {
  const reachM = plan.edge.featherM + plan.edge.hysteresisM;
  return [area.minX - reachM, area.maxX + reachM, area.minY - reachM, area.maxY + reachM];
}

function bind(mapping: MappingPlan, zones: readonly ZoneState[]): Binding[] {
  const idle = { level: 0, layers: [], firstAsk: 0, endAsk: 0 };
  if (mapping.kind === 'follow') {
    const { performer } = mapping;
    const curve = compileCurve('linear');
    return [{ mapping, performer, curve, presence: undefined, sleeps: false, ...idle }];
  }
  const curve = compileCurve(mapping.curve);
  const sleeps = curve(0) === 0;
  const zone = zones[mapping.zone];
  return mapping.performers.map(performer => {
    const presence = zone?.presences[performer];
    const binding: Binding = { mapping, performer, curve, presence, sleeps, ...idle, layers: [] };
    zone?.bindings[performer]?.push(binding);
    return binding;
  });
}
