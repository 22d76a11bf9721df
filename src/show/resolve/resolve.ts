import type { HeadOptions } from '../../fixtures/kinematics.js';
import {
  compileProfile,
  type Profile,
  type ProfileOptions,
  trimmedProfile,
} from '../../fixtures/profile.js';
import { type ObstacleOptions, WORN_BELOW_TOP_M } from '../../planning/options.js';
import { DEFAULT_RATE_HZ } from '../../protocols/transmission.js';
import { defaultEngineAfterS } from '../../safety/options.js';
import { IDENTITY, type Rotation, rotationFromTurns } from '../../stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../../stage/units.js';
import { vec3 } from '../../stage/vector.js';
import { DEFAULT_CONFIDENCE } from '../../tracking/confidence.js';
import { optionsForNoise } from '../../tracking/options.js';
import type {
  ActionPlan,
  FixtureGroupPlan,
  FixturePlan,
  InputPlan,
  PerformerPlan,
  Show,
  TrackerPlan,
  TrackingPlan,
  UnpatchedPlan,
} from '../model/model.js';
import { SLOTS_PER_UNIVERSE } from '../model/model.js';
import type { ActionFile } from '../schema/actions.js';
import type { ObstacleFile } from '../schema/anchors.js';
import {
  carrierOf,
  type FixtureFile,
  type InputFile,
  type ShowFile,
  type TrackerFile,
  type ZoneFile,
} from '../schema/schema.js';
import { areaOf, volumeOf } from './areas.js';
import { apartCells } from './cells.js';
import { resolveCues } from './cues.js';
import { deskOrderOf, groundUses, resolveDesk } from './desk.js';
import { digestOf } from './digest.js';
import { groupOf, kindOfGroup, namesOf } from './groups.js';
import { channelHazards, fixtureHazard, strobeRaws } from './hazards.js';
import { applyLook, certain } from './look.js';
import { resolveMappings } from './mappings.js';
import { operatorInputs, resolveOperator } from './operator.js';
import { resolveOutputs } from './outputs.js';
import { resolvePalettes } from './palettes.js';
import { resolvePositions } from './positions.js';
import { profileFor, profilesOf } from './profiles.js';
import { hasStamp, listensAt, routeOptionsOf } from './routes.js';
import { SignalResolver } from './signals.js';
import { universesOf } from './universes.js';

export type { Show } from '../model/model.js';

/** Turns a checked file into the model that the rest of the program uses. Only for files without findings. */
export function resolveShow(whole: ShowFile): Show {
  const { show: file, origins } = apartCells(whole);
  const universes = [
    ...new Set(Object.values(file.outputs).flatMap(output => universesOf(output) ?? [])),
  ].sort((a, b) => a - b);
  const { x, y, z } = file.stage;
  const fixtures = resolveFixtures(file, whole, universes, origins);
  const performers = Object.entries(file.performers).map(
    ([name, performer]): PerformerPlan => ({
      name,
      label: performer.label ?? name,
      trackers: performer.trackers.map(one => trackerOf(one, file)),
      ...heightsOf(performer),
    }),
  );
  const signals = new SignalResolver(file);
  const mappings = resolveMappings(file, fixtures, performers, signals);
  return {
    name: file.name,
    digest: digestOf(whole),
    bounds: { min: vec3(x[0], y[0], z[0]), max: vec3(x[1], y[1], z[1]) },
    inputs: [
      ...Object.entries(file.inputs).map(([name, input]) => resolveInput(name, input)),
      ...operatorInputs(file),
    ],
    tracking: resolveTracking(file),
    performers,
    spares: file.spares.map(one => trackerOf(one, file)),
    anchors: Object.entries(file.anchors).map(([name, { position }]) => ({
      name,
      position: vec3(...position),
    })),
    ranging: { by: file.ranging.by, errorM: file.ranging.error },
    obstacles: Object.entries(file.obstacles).map(([name, obstacle]) =>
      resolveObstacle(name, obstacle),
    ),
    zones: Object.entries(file.zones).map(([name, zone]) => ({
      name,
      label: zone.label ?? name,
      area: certain(areaOf(zone)),
      edge: { featherM: zone.feather, hysteresisM: zone.hysteresis },
      around: carriedBy(zone, performers),
    })),
    exits: Object.entries(file.exits).map(([name, exit]) => ({
      name,
      label: exit.label ?? name,
      area: certain(areaOf(exit)),
    })),
    ...resolvePalettes(file, fixtures),
    keepOuts: Object.entries(file.keepOut).map(([name, keepOut]) => {
      const named = keepOut.fixtures && namesOf(file, keepOut.fixtures, 'fixtures');
      return {
        name,
        label: keepOut.label ?? name,
        volume: certain(volumeOf(keepOut)),
        heads: fixtures.flatMap(({ name: fixture, head }, index) =>
          head !== undefined && named?.includes(fixture) !== false ? [index] : [],
        ),
      };
    }),
    fixtures,
    groups: fixtureGroupsOf(file, whole, fixtures),
    unpatched: Object.entries(file.fixtures).flatMap(([name, fixture]) =>
      fixture.unpatched ? [unpatchedOf(name, fixture)] : [],
    ),
    mappings,
    signals: signals.set,
    cues: resolveCues(file, fixtures, signals.set, mappings),
    receivers: Object.entries(file.receivers).map(([name, receiver]) => ({
      ...receiver,
      name,
      label: receiver.label ?? name,
    })),
    actions: file.actions.map(action => resolveAction(action, file, signals.set)),
    positions: resolvePositions(file),
    watchdog: resolveWatchdog(file),
    operator: resolveOperator(file),
    desk: resolveDesk(file, universes),
    orders: file.orders.map(order => deskOrderOf(file, order)),
    reloadS: file.reload,
    limits: {
      intensityS: file.limits.intensity,
      movementS: file.limits.movement,
      otherS: file.limits.other,
      flashesPerSecond: file.limits.flashes,
    },
    outputs: resolveOutputs(file, universes, fixtures),
    universes,
  };
}

/** Cells of a fixture are in the groups of the file already; what they share is no member of these. */
function fixtureGroupsOf(
  file: ShowFile,
  whole: ShowFile,
  fixtures: readonly FixturePlan[],
): FixtureGroupPlan[] {
  return Object.keys(file.groups).flatMap((name): FixtureGroupPlan[] => {
    if (kindOfGroup(file, name) !== 'fixtures') return [];
    const members = new Set(groupOf(file, name));
    const isWhole = (inFile: string) =>
      groupOf(file, inFile)?.every(cell => members.has(cell)) === true;
    const indices = fixtures.flatMap(({ name: fixture, inFile }, index) =>
      members.has(fixture) || (fixture !== inFile && isWhole(inFile)) ? [index] : [],
    );
    const label = Object.hasOwn(whole.fixtures, name) ? whole.fixtures[name]?.label : undefined;
    return indices.length === 0 ? [] : [{ name, label: label ?? name, fixtures: indices }];
  });
}

function resolveInput(name: string, input: InputFile): InputPlan {
  const common = {
    carries: 'positions' as const,
    name,
    listen: listensAt(input),
    port: input.port,
    allow: input.allow,
    maxDatagramBytes: input.maxDatagram,
    origin: vec3(...input.origin),
    rotation: rotationOfTurn(input.turn),
    scale: input.scale,
  };
  if (input.protocol === 'psn') {
    const { group, axes, quality, stamps } = input;
    return {
      ...common,
      timeTags: 'due',
      isStamped: stamps === 'required',
      routes: [],
      psn: { group: group === 'none' ? undefined : group, axes, quality, stamps },
    };
  }
  return {
    ...common,
    timeTags: input.timeTags,
    isStamped: input.timeTags === 'measured' || input.routes.some(hasStamp),
    routes: input.routes.map(routeOptionsOf),
    psn: undefined,
  };
}

function carriedBy(zone: ZoneFile, performers: readonly PerformerPlan[]): number | undefined {
  const carrier = carrierOf(zone);
  return carrier === undefined ? undefined : performers.findIndex(({ name }) => name === carrier);
}

function heightsOf({ height, wornAt }: ShowFile['performers'][string]) {
  return { heightM: height, wornAtM: wornAt ?? Math.max(0, height - WORN_BELOW_TOP_M) };
}

function trackerOf({ id, offset, noise }: TrackerFile, { tracking }: ShowFile): TrackerPlan {
  const { forward, left, up } = offset;
  const noiseShare = (noise ?? tracking.noise) / tracking.noise;
  return { id, fit: { forwardM: forward, leftM: left, upM: up, noiseShare } };
}

function rotationOfTurn(turn: InputFile['turn']): Rotation {
  const { x, y, z } = typeof turn === 'number' ? { x: 0, y: 0, z: turn } : turn;
  return rotationFromTurns(radians(x), radians(y), radians(z));
}

function resolveObstacle(name: string, { box, cylinder }: ObstacleFile): ObstacleOptions {
  if (box !== undefined) {
    const { x, y, z } = box;
    const [min, max] = [vec3(x[0], y[0], z[0]), vec3(x[1], y[1], z[1])];
    return { name, solid: { kind: 'box', min, max } };
  }
  const { centre, radius, z } = certain(cylinder);
  const [x, y] = centre;
  return { name, solid: { kind: 'cylinder', x, y, radiusM: radius, fromM: z[0], toM: z[1] } };
}

function resolveTracking({ tracking }: ShowFile): TrackingPlan {
  return {
    track: {
      ...optionsForNoise(tracking.noise),
      reacquireS: tracking.reacquire,
      frozenS: tracking.frozen,
    },
    confidence: DEFAULT_CONFIDENCE,
    sensorLatencyS: tracking.sensorLatency,
    outputLatencyS: tracking.outputLatency,
  };
}

/** The engine ticks, and the supervisor sends, as often as the fastest output. */
function tickHzOf(outputs: ShowFile['outputs']): number {
  const rates = Object.values(outputs).map(({ rate }) => rate);
  return rates.length === 0 ? DEFAULT_RATE_HZ : Math.max(...rates);
}

function resolveWatchdog({ watchdog, outputs }: ShowFile): Show['watchdog'] {
  const { engineSilent, feedSilent, trackerSilent, jumped, outOfBounds, confidenceLow } = watchdog;
  const { sensorClockGone, frozen, operatorStop, deskLost } = watchdog;
  const timed = ({ after, fade }: { after: number; fade: number }) => ({
    afterS: after,
    fadeS: fade,
  });
  return {
    engineSilent: {
      afterS: engineSilent.after ?? defaultEngineAfterS(tickHzOf(outputs)),
      fadeS: engineSilent.fade,
    },
    feedSilent: timed(feedSilent),
    trackerSilent: timed(trackerSilent),
    sensorClockGone: timed(sensorClockGone),
    frozen: timed(frozen),
    operatorStop: { fadeS: operatorStop.fade },
    deskLost: timed(deskLost),
    jumped: { fadeS: jumped.fade },
    outOfBounds: { ...timed(outOfBounds), marginM: outOfBounds.margin },
    confidenceLow: { ...timed(confidenceLow), below: confidenceLow.below },
    rearmS: watchdog.rearm,
    returnS: watchdog.return,
    moveS: watchdog.move,
    turnS: watchdog.turn,
  };
}

function resolveFixtures(
  file: ShowFile,
  whole: ShowFile,
  universes: readonly number[],
  origins: ReadonlyMap<string, string>,
): FixturePlan[] {
  // With those that stand in no file, of cells.
  const profiles = profilesOf(file);
  // One for all the fixtures of a kind.
  const compiled = new Map<ProfileOptions, Profile>();
  for (const modes of profiles.values()) {
    for (const options of modes.values()) compiled.set(options, compileProfile(options));
  }
  const patched = Object.entries(file.fixtures).filter(([, { unpatched }]) => !unpatched);
  return patched.map(([name, fixture]) => {
    const untrimmed = certain(compiled.get(certain(profileFor(profiles, fixture))));
    const profile = trimmedProfile(untrimmed, 'Tilt', fixture.trim.tilt);
    const inFile = origins.get(name) ?? name;
    const written = inFile === name ? fixture : certain(whole.fixtures[inFile]);
    const universe = universes.indexOf(certain(fixture.universe));
    const indexOf = (attribute: string) =>
      profile.channels.findIndex(channel => channel.attribute === attribute);
    const [panChannel, tiltChannel] = [indexOf('Pan'), indexOf('Tilt')];
    const attributes = profile.channels.map(channel => channel.attribute);
    const hazards = channelHazards(file, fixture, attributes);
    const head = headOf(fixture, profile, panChannel, tiltChannel);
    const defaults = profile.channels.map(channel => channel.default);
    const aiming = { profile, head, panChannel, tiltChannel };
    const base = applyLook(defaults, fixture.base, file, aiming);
    return {
      name,
      label: fixture.label ?? name,
      inFile,
      profile,
      profileInFile: certain(compiled.get(certain(profileFor(profiles, written)))),
      universe,
      calibrated: fixture.calibrated,
      position: positionOf(fixture),
      firstSlot: universe * SLOTS_PER_UNIVERSE + certain(fixture.address) - 1,
      head,
      tiltTrim: radians(fixture.trim.tilt),
      panChannel,
      tiltChannel,
      base,
      safe: applyLook(base, fixture.safe ?? {}, file, aiming),
      fadeS: fixtureHazard(file, fixture) === 'ordinary' ? fixture.fade : 0,
      lagS: fixture.lag,
      hazards,
      ground: groundUses(fixture.ground, profile, hazards),
      strobes: strobeRaws(file, fixture, attributes),
    };
  });
}

function unpatchedOf(name: string, fixture: FixtureFile): UnpatchedPlan {
  return { name, label: fixture.label ?? name, position: positionOf(fixture) };
}

function positionOf({ position }: FixtureFile) {
  return position === undefined ? undefined : vec3(...position);
}

function headOf(
  fixture: FixtureFile,
  profile: Profile,
  panChannel: number,
  tiltChannel: number,
): HeadOptions | undefined {
  const [pan, tilt] = [profile.channels[panChannel], profile.channels[tiltChannel]];
  if (pan === undefined || tilt === undefined || fixture.position === undefined) return undefined;
  return {
    position: vec3(...fixture.position),
    rotation: rotationOf(fixture.orientation),
    panRange: [radians(pan.from), radians(pan.to)],
    tiltRange: [radians(tilt.from), radians(tilt.to)],
  };
}

function rotationOf(orientation: FixtureFile['orientation']): Rotation {
  switch (orientation) {
    case 'hanging':
      return IDENTITY;
    case 'standing':
      return rotationFromTurns(Math.PI as Radians, 0 as Radians, 0 as Radians);
    default:
      return rotationFromTurns(
        radians(orientation.x),
        radians(orientation.y),
        radians(orientation.z),
      );
  }
}

function radians(degrees: number): Radians {
  return toRadians(degrees as Degrees);
}

function resolveAction(
  { condition, cue, on, send, address, arguments: args }: ActionFile,
  { cues }: ShowFile,
  { conditions }: Show['signals'],
): ActionPlan {
  const common = { on, receiver: send, address, args };
  if (cue !== undefined) {
    return { of: 'cue', name: cue, index: Object.keys(cues).indexOf(cue), ...common };
  }
  const name = certain(condition);
  return {
    of: 'condition',
    name,
    index: conditions.findIndex(one => one.name === name),
    ...common,
  };
}
