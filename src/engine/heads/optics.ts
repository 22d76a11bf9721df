import { AXIS, AXIS_SIZE, type AxisLimits, placeAxis, stepAxis } from '../../fixtures/motion.js';
import {
  beamDiameterM,
  compensation,
  focusFor,
  irisFor,
  type OpticsOptions,
  zoomFor,
} from '../../fixtures/optics.js';
import type { FixturePlan } from '../../show/model/model.js';
import type { Radians } from '../../stage/units.js';
import { radians } from './heads.js';

/** The optics of one head that follows, as its mapping asks for them. */
export interface FollowOptics {
  readonly options: OpticsOptions;
  /** Channels of its profile, -1 where there is none. */
  readonly zoom: number;
  readonly iris: number;
  readonly focus: number;
  readonly zoomLeastDeg: number;
  readonly zoomMostDeg: number;
  /** Full angle of the open beam where there is no Zoom. */
  readonly fixedAngle: Radians;
  /** Full angle of the beam at the throw for which the intensity is set, if Zoom holds the size. */
  readonly referenceAngle: Radians;
  readonly beamRadiusM: number;
  /** Physical value of full intensity. */
  readonly fullIntensity: number;
  /** How fast Zoom, Iris and Focus1 can go, and where each is; undefined where nothing is known. */
  readonly motion: Readonly<Record<'zoom' | 'iris' | 'focus', Drive | undefined>>;
  /** Diameter of what it covers now, metres; 0 if it covers nothing. */
  coverM: number;
  /** Added to its diameter to hold others, metres. */
  holdsM: number;
  /** Present factor on the intensity. */
  factor: number;
  /** Present width of the beam at the performer, metres; NaN if its angle isn't known. */
  diameterM: number;
}

/** Moves one attribute within its limits. */
export interface Drive {
  readonly limits: AxisLimits;
  readonly numbers: Float64Array;
}

function driveOf(plan: FixturePlan, attribute: 'Zoom' | 'Iris' | 'Focus1'): Drive | undefined {
  const index = plan.profile.channels.findIndex(channel => channel.attribute === attribute);
  const [channel, motion] = [plan.profile.channels[index], plan.profile.motion[attribute]];
  if (channel === undefined || motion === undefined) return undefined;
  const { speed, acceleration = Number.POSITIVE_INFINITY } = motion;
  const [min, max] = [Math.min(channel.from, channel.to), Math.max(channel.from, channel.to)];
  const numbers = new Float64Array(AXIS_SIZE);
  placeAxis(numbers, 0, plan.safe[index] ?? channel.default);
  return { limits: { min, max, speed, acceleration }, numbers };
}

/** One step of an attribute towards a value, as fast as its fixture can. */
function driven(drive: Drive | undefined, value: number, dtS: number): number {
  if (drive === undefined) return value;
  stepAxis(drive.numbers, 0, value, 0, drive.limits, dtS);
  return drive.numbers[AXIS.position] as number;
}

export function compileOptics(
  plan: FixturePlan,
  options: OpticsOptions,
  intensity: number,
): FollowOptics {
  const { channels, optics } = plan.profile;
  const indexOf = (attribute: string) =>
    channels.findIndex(channel => channel.attribute === attribute);
  const zoom = indexOf('Zoom');
  const [from, to] = [channels[zoom]?.from ?? 0, channels[zoom]?.to ?? 0];
  const [zoomLeastDeg, zoomMostDeg] = [Math.min(from, to), Math.max(from, to)];
  const beamRadiusM = optics.beamRadiusM ?? 0;
  const { beam, compensate } = options;
  const reference =
    beam === undefined || compensate === undefined
      ? 0
      : zoomFor(beam.diameterM, compensate.referenceM, zoomLeastDeg, zoomMostDeg, beamRadiusM);
  const full = channels[intensity];
  return {
    options,
    zoom,
    iris: indexOf('Iris'),
    focus: indexOf('Focus1'),
    zoomLeastDeg,
    zoomMostDeg,
    fixedAngle: radians(optics.beamAngleDeg ?? optics.fieldAngleDeg ?? Number.NaN),
    referenceAngle: radians(reference),
    beamRadiusM,
    fullIntensity: full === undefined ? 0 : Math.max(full.from, full.to),
    motion: {
      zoom: driveOf(plan, 'Zoom'),
      iris: driveOf(plan, 'Iris'),
      focus: driveOf(plan, 'Focus1'),
    },
    coverM: 0,
    holdsM: 0,
    factor: 1,
    diameterM: Number.NaN,
  };
}

/** Present zoom, iris and focus on their way, and the resulting beam. */
export function takeOptics(optics: FollowOptics, was: FollowOptics): void {
  const { coverM, holdsM, factor, diameterM } = was;
  Object.assign(optics, { coverM, holdsM, factor, diameterM });
  for (const key of ['zoom', 'iris', 'focus'] as const) {
    const before = was.motion[key];
    if (before !== undefined) optics.motion[key]?.numbers.set(before.numbers);
  }
}

/** sqrt(5.991): 95 % of a normal distribution in the plane lie within so many standard deviations (chi-square, 2 degrees). */
const WITHIN_95 = 2.4477;
/** How fast a beam that had opened closes again, metres a second. */
const CLOSES_M_S = 1;

/** Opens at once to cover the uncertainty, and closes again slowly. @returns the diameter to hold, metres */
export function coveredM(optics: FollowOptics, sigmaM: number, dtS: number): number {
  const { beam } = optics.options;
  if (beam?.coverM === undefined) return beam?.diameterM ?? 0;
  const { diameterM, coverM } = beam;
  const region = 2 * WITHIN_95 * sigmaM + diameterM / 2;
  const wanted = Math.min(Math.max(diameterM, coverM), Math.max(diameterM, region) + optics.holdsM);
  optics.coverM = Math.max(wanted, optics.coverM - CLOSES_M_S * dtS);
  return optics.coverM;
}

/** What the distance to the performer makes of zoom, iris, focus and intensity. */
export function adjustOptics(
  optics: FollowOptics,
  live: Float64Array,
  throwM: number,
  sigmaM: number,
  dtS: number,
): void {
  const { options, zoom, iris, focus, beamRadiusM, motion } = optics;
  const { beam, compensate, focus: points } = options;
  const byZoom = beam?.by === 'zoom';
  const acrossM = coveredM(optics, sigmaM, dtS);
  if (byZoom && zoom >= 0) {
    const { zoomLeastDeg, zoomMostDeg } = optics;
    const wanted = zoomFor(acrossM, throwM, zoomLeastDeg, zoomMostDeg, beamRadiusM);
    live[zoom] = driven(motion.zoom, wanted, dtS);
  }
  const angle = zoom >= 0 ? radians(live[zoom] as number) : optics.fixedAngle;
  optics.diameterM = beamDiameterM(throwM, angle, beamRadiusM);
  if (beam?.by === 'iris' && iris >= 0) {
    const wanted = irisFor(acrossM, throwM, angle, beamRadiusM);
    const open = driven(motion.iris, wanted, dtS);
    live[iris] = open;
    optics.diameterM *= open / 100;
  }
  if (compensate !== undefined) {
    const reference = byZoom ? optics.referenceAngle : angle;
    optics.factor = compensation(throwM, angle, reference, compensate);
  }
  if (points !== undefined && focus >= 0)
    live[focus] = driven(motion.focus, focusFor(points, throwM), dtS);
}
