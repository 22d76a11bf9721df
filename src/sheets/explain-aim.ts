import { toPhysical, toRaw, writeRaw } from '../fixtures/encode.js';
import { compileMotion } from '../fixtures/head-motion.js';
import { clearance } from '../fixtures/keep-out.js';
import { aimAt, angleBetween, compileHead, panTilt } from '../fixtures/kinematics.js';
import {
  beamDiameterM,
  floorIncidence,
  illuminanceLx,
  intensityCd,
  zoomFor,
} from '../fixtures/optics.js';
import { poleRegionM } from '../fixtures/pole.js';
import type { Channel } from '../fixtures/profile.js';
import { exactSolutions, type Solution } from '../fixtures/solutions.js';
import { COMES_UP_RAD, keepOutOf } from '../show/model/keep-out.js';
import { type FixturePlan, type Show, SLOTS_PER_UNIVERSE } from '../show/model/model.js';
import { isShut } from '../show/model/shutter.js';
import { rotateBack } from '../stage/rotation.js';
import { type Degrees, type Radians, toDegrees, toRadians } from '../stage/units.js';
import { type Vec3, vec3 } from '../stage/vector.js';

export interface AimQuestion {
  readonly point: Readonly<Vec3>;
  /** Metres per second: what comes next. */
  readonly velocity: Readonly<Vec3>;
  /** Where the head is, degrees; undefined takes its base values. */
  readonly from: { readonly panDeg: number; readonly tiltDeg: number } | undefined;
  /** Full angle of the beam, degrees; undefined takes what the show or the profile says. */
  readonly zoomDeg: number | undefined;
}

/** One aim of one head, with what led to it. Degrees and metres: it is for people. */
export interface AimExplanation {
  readonly throwM: number;
  readonly reachable: boolean;
  readonly panDeg: number;
  readonly tiltDeg: number;
  /** Between the beam and the point, degrees; 0 when it is within reach. */
  readonly missedByDeg: number;
  readonly from: { readonly panDeg: number; readonly tiltDeg: number };
  /** All that meet the point, the chosen one first. */
  readonly solutions: readonly {
    readonly panDeg: number;
    readonly tiltDeg: number;
    readonly way: Solution['way'];
    readonly travelS: number;
    readonly roomDeg: number;
    readonly costS: number;
  }[];
  readonly why: string;
  readonly slots: readonly {
    readonly attribute: 'Pan' | 'Tilt';
    readonly raw: number;
    readonly universe: number;
    /** Counted from 1, coarse first. */
    readonly addresses: readonly number[];
    readonly levels: readonly number[];
  }[];
  /** What the steps of the channels add at the point, metres. */
  readonly roundingM: number;
  readonly pole: {
    /** From the point to the pan axis, metres. */
    readonly offAxisM: number;
    /** Radius within which a walk may be too near to the axis for pan, metres. */
    readonly regionM: number;
    readonly speedMps: number;
  };
  /** How far ahead of a tick a performer is predicted for this head, seconds: output and its own lag. */
  readonly predictedS: number;
  readonly beam: {
    readonly angleDeg: number;
    readonly source: 'asked' | 'held' | 'follow' | 'base' | 'profile';
    readonly diameterM: number;
    /** Opening of the Iris, per cent of the open beam, where that makes it narrower; 0: nothing of it is left. */
    readonly irisPercent?: number;
  } | null;
  /** Why no light comes out, whatever the Dimmer: a shutter that is closed, an Iris at 0, a keep-out; null: nothing keeps it in. */
  readonly shut: string | null;
  readonly light: {
    readonly intensityCd: number;
    /** On a surface that faces the head, and on a level one. */
    readonly facingLx: number;
    readonly levelLx: number;
  } | null;
}

/** Comfortable walking, mean of men and women of all ages: 1.27 to 1.46 m/s (Bohannon 1997). */
const WALK_MPS = 1.4;

/** @param fixture one that can aim */
export function explainAim(
  show: Show,
  fixture: FixturePlan,
  question: AimQuestion,
): AimExplanation {
  if (fixture.head === undefined) throw new Error('asked for the aim of a fixture that cannot aim');
  const { profile, panChannel, tiltChannel } = fixture;
  const head = compileHead(fixture.head);
  const motion = compileMotion(head, profile.motion.Pan, profile.motion.Tilt);
  const { point, velocity } = question;
  const from = question.from ?? {
    panDeg: fixture.base[panChannel] as number,
    tiltDeg: fixture.base[tiltChannel] as number,
  };
  const [fromPan, fromTilt] = [radians(from.panDeg), radians(from.tiltDeg)];
  const solutions = exactSolutions(head, motion, point, velocity, fromPan, fromTilt);
  const nearest = aimAt(head, point.x, point.y, point.z, fromPan, fromTilt, panTilt());
  const [chosen] = solutions;
  const [pan, tilt] = [chosen?.pan ?? nearest.pan, chosen?.tilt ?? nearest.tilt];
  const missedBy = chosen === undefined ? nearest.missedBy : 0;

  const toPoint = vec3(
    point.x - head.position.x,
    point.y - head.position.y,
    point.z - head.position.z,
  );
  const throwM = Math.hypot(toPoint.x, toPoint.y, toPoint.z);
  const slots = (['Pan', 'Tilt'] as const).map(attribute => {
    const angle = toDegrees((attribute === 'Pan' ? pan : tilt) as Radians);
    return slotsOf(show, fixture, attribute, angle);
  });
  const [sentPan, sentTilt] = slots.map(({ channel, raw }) => radians(toPhysical(channel, raw)));
  const rounding = angleBetween(pan, tilt, sentPan ?? pan, sentTilt ?? tilt);
  const local = rotateBack(head.rotation, toPoint, vec3(0, 0, 0));
  const walk = Math.hypot(velocity.x, velocity.y, velocity.z) || WALK_MPS;
  const open = beamOf(show, fixture, question.zoomDeg, throwM);
  const beam = open && throughIris(show, fixture, open);
  const shut = shutBy(show, fixture) ?? keptDarkBy(show, fixture, pan, tilt, open?.angleDeg);
  return {
    throwM,
    reachable: chosen !== undefined,
    panDeg: toDegrees(pan),
    tiltDeg: toDegrees(tilt),
    missedByDeg: toDegrees(missedBy as Radians),
    from,
    solutions: solutions.map(solution => ({
      panDeg: toDegrees(solution.pan),
      tiltDeg: toDegrees(solution.tilt),
      way: solution.way,
      travelS: solution.travelS,
      roomDeg: toDegrees(solution.room),
      costS: solution.costS,
    })),
    why: whyOf(solutions, throwM, Math.hypot(local.x, local.y)),
    slots: slots.map(({ channel: _, ...rest }) => rest),
    roundingM: throwM * rounding,
    pole: {
      offAxisM: Math.hypot(local.x, local.y),
      regionM: poleRegionM(walk, motion),
      speedMps: walk,
    },
    predictedS: show.tracking.outputLatencyS + fixture.lagS,
    beam,
    shut,
    // The Iris takes the edge of the beam, and leaves its middle as bright.
    light: shut === null ? lightOf(fixture, open?.angleDeg, throwM, toPoint) : null,
  };
}

const SAME_S = 1e-6;
/** As a share of the throw, as `exactSolutions` has it. */
const ON_AXIS = 1e-9;

function whyOf([chosen, second]: readonly Solution[], throwM: number, offAxisM: number): string {
  if (chosen === undefined) {
    return throwM > 1e-6
      ? 'out of reach: no pair of angles within the ranges hits the point; this one misses by least'
      : 'the point is the head itself: there is no direction to it';
  }
  if (offAxisM < ON_AXIS * throwM)
    return 'on the pan axis every pan will do: pan stays where it is';
  if (second === undefined) return 'the only pair within the ranges';
  if (second.costS - chosen.costS < SAME_S) return 'as good as the next: the smaller pan is taken';
  const saved = second.travelS - chosen.travelS;
  if (saved > SAME_S) return 'the shortest way from where the head is';
  const far = saved < -SAME_S ? 'farther to go than the next' : 'as far to go as the next';
  return `${far}, but with more room before pan comes to its end`;
}

function slotsOf(show: Show, fixture: FixturePlan, attribute: 'Pan' | 'Tilt', angleDeg: number) {
  const index = attribute === 'Pan' ? fixture.panChannel : fixture.tiltChannel;
  const channel = fixture.profile.channels[index] as Channel;
  const raw = toRaw(channel, angleDeg);
  const first = fixture.firstSlot % SLOTS_PER_UNIVERSE;
  const levels = new Uint8Array(SLOTS_PER_UNIVERSE);
  writeRaw(channel, raw, levels, first);
  return {
    attribute,
    channel,
    raw,
    universe: show.universes[fixture.universe] as number,
    addresses: channel.offsets.map(offset => first + offset + 1),
    levels: channel.offsets.map(offset => levels[first + offset] as number),
  };
}

/** Values of a channel by each mapping by which the head follows; its base where it follows nobody, or one leaves it. */
function valuesOf({ mappings, fixtures }: Show, fixture: FixturePlan, channel: number): number[] {
  const index = fixtures.indexOf(fixture);
  const base = fixture.base[channel] as number;
  const values = mappings.flatMap(one => {
    if (one.kind !== 'follow' || !one.heads.includes(index)) return [];
    const set = one.values.find(value => value.fixture === index && value.channel === channel);
    return [set?.value ?? base];
  });
  return values.length === 0 ? [base] : values;
}

/** The beam behind the Iris: as narrow as a mapping holds it with that, or as its value says. */
function throughIris(
  show: Show,
  fixture: FixturePlan,
  beam: NonNullable<AimExplanation['beam']>,
): NonNullable<AimExplanation['beam']> {
  const iris = fixture.profile.channels.findIndex(({ attribute }) => attribute === 'Iris');
  if (iris < 0) return beam;
  const index = show.fixtures.indexOf(fixture);
  const held = show.mappings
    .flatMap(one => (one.kind === 'follow' && one.heads.includes(index) ? [one.optics.beam] : []))
    .find(one => one?.by === 'iris');
  const percent =
    held === undefined
      ? Math.max(...valuesOf(show, fixture, iris))
      : Math.min(100, (100 * held.diameterM) / beam.diameterM);
  if (!(percent < 100)) return beam;
  return { ...beam, diameterM: (beam.diameterM * percent) / 100, irisPercent: percent };
}

const SHUT_BY_BASE = ' (its base value)';
const SHUT_BY_FOLLOWING = ' (as following)';

function shutBy(show: Show, fixture: FixturePlan): string | null {
  const { channels } = fixture.profile;
  const index = show.fixtures.indexOf(fixture);
  const isHeld = show.mappings.some(
    one => one.kind === 'follow' && one.heads.includes(index) && one.optics.beam?.by === 'iris',
  );
  for (const [c, channel] of channels.entries()) {
    const values = valuesOf(show, fixture, c);
    const from = values.every(value => value === fixture.base[c])
      ? SHUT_BY_BASE
      : SHUT_BY_FOLLOWING;
    if (values.every(value => isShut(channel, value)))
      return `its ${channel.attribute} is closed${from}`;
    if (channel.attribute === 'Iris' && !isHeld && values.every(value => value === 0)) {
      return `its Iris is at 0${from}`;
    }
  }
  return null;
}

/** The keep-out for which a head that aims so is held dark. */
function keptDarkBy(
  show: Show,
  fixture: FixturePlan,
  pan: number,
  tilt: number,
  zoomDeg = 0,
): string | null {
  const keepOut = keepOutOf(show, show.fixtures.indexOf(fixture));
  if (keepOut === undefined || clearance(keepOut, pan, tilt, zoomDeg) >= COMES_UP_RAD) return null;
  return `its beam is in keep-out "${show.keepOuts[keepOut.nearest]?.name}", or within a degree of it`;
}

/** By Zoom where it has one: as asked, as a follow mapping sets it, or its base value. */
function beamOf(
  show: Show,
  fixture: FixturePlan,
  askedDeg: number | undefined,
  throwM: number,
): AimExplanation['beam'] {
  const { channels, optics } = fixture.profile;
  const of = (angleDeg: number, source: NonNullable<AimExplanation['beam']>['source']) => ({
    angleDeg,
    source,
    diameterM: beamDiameterM(throwM, radians(angleDeg), optics.beamRadiusM),
  });
  if (askedDeg !== undefined) return of(askedDeg, 'asked');
  const zoom = channels.findIndex(channel => channel.attribute === 'Zoom');
  if (zoom < 0) {
    const angle = optics.beamAngleDeg ?? optics.fieldAngleDeg;
    return angle === undefined ? null : of(angle, 'profile');
  }
  const index = show.fixtures.indexOf(fixture);
  const follows = show.mappings
    .filter(mapping => mapping.kind === 'follow')
    .filter(mapping => mapping.heads.includes(index));
  const held = follows.find(({ optics: { beam } }) => beam?.by === 'zoom')?.optics.beam;
  if (held !== undefined) {
    const { from, to } = channels[zoom] as Channel;
    const [least, most] = [Math.min(from, to), Math.max(from, to)];
    return of(zoomFor(held.diameterM, throwM, least, most, optics.beamRadiusM), 'held');
  }
  const set = follows
    .flatMap(mapping => mapping.values)
    .find(value => value.fixture === index && value.channel === zoom);
  return set === undefined ? of(fixture.base[zoom] as number, 'base') : of(set.value, 'follow');
}

function lightOf(
  { profile }: FixturePlan,
  angleDeg: number | undefined,
  throwM: number,
  toPoint: Readonly<Vec3>,
): AimExplanation['light'] {
  const { luminousFluxLm } = profile.optics;
  if (luminousFluxLm === undefined || angleDeg === undefined || !(throwM > 1e-6)) return null;
  const cd = intensityCd(luminousFluxLm, radians(angleDeg));
  return {
    intensityCd: cd,
    facingLx: illuminanceLx(cd, throwM, 0 as Radians),
    levelLx: illuminanceLx(cd, throwM, floorIncidence(toPoint.z / throwM)),
  };
}

function radians(degrees: number): Radians {
  return toRadians(degrees as Degrees);
}
