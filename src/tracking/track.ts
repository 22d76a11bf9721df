import {
  type AxisState,
  type Covariance,
  type Gain,
  type ProcessNoise,
  predictCovariance,
  predictState,
  updateCovariance,
  updateState,
  whiteAcceleration,
} from './kalman.js';
import type { TrackingOptions } from './options.js';
import type { Sighting } from './sighting.js';

/** Where a performer is taken to be. Stage frame, metres, metres a second. */
export interface Estimate {
  x: number;
  y: number;
  z: number;
  vx: number;
  vy: number;
  vz: number;
  /** Standard deviation of x and of y, and of z, metres. */
  sigmaHorizontalM: number;
  sigmaVerticalM: number;
  /** Since the last report that was believed was measured, seconds. */
  ageS: number;
}

export const VERDICTS = [
  'started',
  'accepted',
  'gated',
  'reacquired',
  'out-of-order',
  'duplicate',
] as const;
/** What a track made of a report. */
export type Verdict = (typeof VERDICTS)[number];

/** State of one performer's track; belongs to `observe` and `predict`. */
export interface Track {
  readonly options: TrackingOptions;
  started: boolean;
  /** Time of the state, monotonic seconds. */
  timeS: number;
  readonly x: AxisState;
  readonly y: AxisState;
  readonly z: AxisState;
  /** Shared by x and y, whose noises are the same. */
  readonly horizontal: Covariance;
  readonly vertical: Covariance;
  /** When each tracker's last report was measured. */
  readonly lastTimeS: Float64Array;
  /** The run of gated reports that may be a new place. */
  readonly candidate: {
    x: number;
    y: number;
    z: number;
    timeS: number;
    sinceS: number;
    count: number;
  };
  /** Running share of gated reports, 0..1, and of the sensor's quality. */
  gatedShare: number;
  quality: number;
  /** When the last believed report was measured, and when it arrived, monotonic seconds. */
  acceptedS: number;
  arrivedS: number;
  /** Usual interval between believed reports, seconds; 0 until there were two. */
  intervalS: number;
  /** Why the last report was or wasn't believed: its innovation (m), test ratio (1 = at the gate). */
  readonly last: { dx: number; dy: number; dz: number; testRatio: number; verdict: Verdict };
  /** Room to compute in, so that nothing is allocated a report. */
  readonly room: { readonly noise: ProcessNoise; readonly gain: Gain };
}

/** Sharpness of the running averages: about the last ten reports. */
const AVERAGING = 0.1;
/** A report of no quality at all counts as this much noisier (standard deviation). */
const WORST_QUALITY_FACTOR = 4;
/** A person can be moving at this speed when first seen: fast walking, Bohannon 1997. */
const START_SPEED_SIGMA_MPS = 1.5;
/** Keeps variances finite after a silence of any length: 100 m is nowhere on a stage. */
const MAX_VARIANCE = 1e4;
/** A silence of a day is as good as endless, and its third power still fits a number easily. */
const MAX_INTERVAL_S = 86_400;
/** A pause longer than this is a silence, and tells nothing of the usual interval. */
const LONGEST_USUAL_INTERVAL_S = 1;

export function createEstimate(): Estimate {
  return { x: 0, y: 0, z: 0, vx: 0, vy: 0, vz: 0, sigmaHorizontalM: 0, sigmaVerticalM: 0, ageS: 0 };
}

export function createTrack(options: TrackingOptions, trackerCount: number): Track {
  const axis = (): AxisState => ({ position: 0, velocity: 0 });
  const covariance = (): Covariance => ({ p11: 0, p12: 0, p22: 0 });
  return {
    options,
    started: false,
    timeS: 0,
    x: axis(),
    y: axis(),
    z: axis(),
    horizontal: covariance(),
    vertical: covariance(),
    lastTimeS: new Float64Array(trackerCount).fill(Number.NEGATIVE_INFINITY),
    candidate: { x: 0, y: 0, z: 0, timeS: 0, sinceS: 0, count: 0 },
    gatedShare: 0,
    quality: 1,
    acceptedS: 0,
    arrivedS: 0,
    intervalS: 0,
    last: { dx: 0, dy: 0, dz: 0, testRatio: 0, verdict: 'started' },
    room: { noise: { q11: 0, q12: 0, q22: 0 }, gain: { k1: 0, k2: 0 } },
  };
}

/** Takes one report into the track, or says why not. The track stays finite for any finite report. */
export function observe(track: Track, sighting: Readonly<Sighting>): Verdict {
  const verdict = judge(track, sighting);
  track.last.verdict = verdict;
  return verdict;
}

function judge(track: Track, sighting: Readonly<Sighting>): Verdict {
  const { options, candidate } = track;
  const { tracker, timeS } = sighting;
  if (timeS === track.lastTimeS[tracker]) return 'duplicate';
  if (!track.started) {
    start(track, sighting);
    return 'started';
  }
  if (timeS < track.timeS) return 'out-of-order';
  track.lastTimeS[tracker] = timeS;
  const quality = share(sighting.quality);
  track.quality += AVERAGING * (quality - track.quality);

  advance(track, timeS);
  const factor = 1 + (WORST_QUALITY_FACTOR - 1) * (1 - quality);
  const variance = (options.noiseM * factor) ** 2;
  const { last } = track;
  last.dx = held(sighting.x - track.x.position);
  last.dy = held(sighting.y - track.y.position);
  last.dz = held(sighting.z - track.z.position);
  const normalised =
    (last.dx * last.dx + last.dy * last.dy) / (track.horizontal.p11 + variance) +
    (last.dz * last.dz) / (track.vertical.p11 + variance);
  last.testRatio = held(normalised / options.gate);

  if (!(normalised <= options.gate)) {
    track.gatedShare += AVERAGING * (1 - track.gatedShare);
    if (!agrees(track, sighting)) {
      restartCandidate(track, sighting);
      return 'gated';
    }
    candidate.count += 1;
    candidate.x = sighting.x;
    candidate.y = sighting.y;
    candidate.z = sighting.z;
    candidate.timeS = timeS;
    const long = timeS - candidate.sinceS >= options.reacquireAfterS;
    if (!long || candidate.count < options.reacquireReports) return 'gated';
    start(track, sighting);
    return 'reacquired';
  }

  candidate.count = 0;
  track.gatedShare -= AVERAGING * track.gatedShare;
  const { gain } = track.room;
  updateCovariance(track.horizontal, variance, gain);
  updateState(track.x, gain, last.dx);
  updateState(track.y, gain, last.dy);
  updateCovariance(track.vertical, variance, gain);
  updateState(track.z, gain, last.dz);
  const sinceS = Math.min(timeS - track.acceptedS, LONGEST_USUAL_INTERVAL_S);
  track.intervalS += (track.intervalS === 0 ? 1 : AVERAGING) * (sinceS - track.intervalS);
  track.acceptedS = timeS;
  track.arrivedS = sighting.arrivalS;
  return 'accepted';
}

/** What overflowed, held to the largest number there is. */
function held(value: number): number {
  return Math.min(Number.MAX_VALUE, Math.max(-Number.MAX_VALUE, value));
}

/** Held to 0..1; what is not a number is worth nothing. */
function share(value: number): number {
  return value > 0 ? Math.min(value, 1) : 0;
}

/**
 * For how long the state may still run on until `atS`: at most `maxPredictionS` after the last believed
 * report, however many gated ones came since.
 */
function runningTime(track: Readonly<Track>, atS: number): number {
  const untilS = Math.min(atS, track.acceptedS + track.options.maxPredictionS);
  return Math.max(0, untilS - track.timeS);
}

/** Time update of the whole track. */
function advance(track: Track, toS: number): void {
  const { options } = track;
  const { noise } = track.room;
  const runningS = runningTime(track, toS);
  const moving = toS - track.acceptedS <= options.maxPredictionS;
  advanceAxis(track.x, runningS, moving);
  advanceAxis(track.y, runningS, moving);
  advanceAxis(track.z, runningS, moving);
  const intervalS = Math.min(toS - track.timeS, MAX_INTERVAL_S);
  whiteAcceleration(options.accelerationDensityHorizontal, intervalS, noise);
  predictCovariance(track.horizontal, intervalS, noise);
  whiteAcceleration(options.accelerationDensityVertical, intervalS, noise);
  predictCovariance(track.vertical, intervalS, noise);
  cap(track.horizontal);
  cap(track.vertical);
  track.timeS = toS;
}

function advanceAxis(axis: AxisState, runningS: number, moving: boolean): void {
  predictState(axis, runningS);
  // After a longer silence nothing is known of the velocity.
  if (!moving) axis.velocity = 0;
}

function cap(p: Covariance): void {
  if (p.p11 <= MAX_VARIANCE && p.p22 <= MAX_VARIANCE) return;
  p.p11 = Math.min(p.p11, MAX_VARIANCE);
  p.p22 = Math.min(p.p22, MAX_VARIANCE);
  p.p12 = 0;
}

function start(track: Track, sighting: Readonly<Sighting>): void {
  const { options } = track;
  track.started = true;
  track.timeS = sighting.timeS;
  track.lastTimeS[sighting.tracker] = sighting.timeS;
  track.x.position = sighting.x;
  track.y.position = sighting.y;
  track.z.position = sighting.z;
  for (const axis of [track.x, track.y, track.z]) axis.velocity = 0;
  for (const p of [track.horizontal, track.vertical]) {
    p.p11 = options.noiseM ** 2;
    p.p12 = 0;
    p.p22 = START_SPEED_SIGMA_MPS ** 2;
  }
  track.candidate.count = 0;
  track.gatedShare = 0;
  track.quality = share(sighting.quality);
  track.intervalS = 0;
  track.acceptedS = sighting.timeS;
  track.arrivedS = sighting.arrivalS;
}

/** As if nothing had ever been seen. */
export function forget(track: Track): void {
  track.started = false;
  track.lastTimeS.fill(Number.NEGATIVE_INFINITY);
}

/** Whether a gated report goes on from the gated ones before it, as one person could. */
function agrees({ candidate, options }: Track, sighting: Readonly<Sighting>): boolean {
  if (candidate.count === 0) return false;
  const distance = Math.hypot(
    sighting.x - candidate.x,
    sighting.y - candidate.y,
    sighting.z - candidate.z,
  );
  return distance <= options.maxSpeedMps * (sighting.timeS - candidate.timeS) + 4 * options.noiseM;
}

function restartCandidate({ candidate }: Track, sighting: Readonly<Sighting>): void {
  candidate.x = sighting.x;
  candidate.y = sighting.y;
  candidate.z = sighting.z;
  candidate.timeS = sighting.timeS;
  candidate.sinceS = sighting.timeS;
  candidate.count = 1;
}

/**
 * The estimate at a time, without changing the track: run on by its velocity for at most
 * `maxPredictionS` after the last believed report, and less and less certain from then on. A time
 * before the state's own gives the state.
 * @returns whether there is any estimate
 */
export function predict(track: Track, atS: number, out: Estimate): boolean {
  if (!track.started) return false;
  const { options, horizontal, vertical } = track;
  const intervalS = Math.min(Math.max(0, atS - track.timeS), MAX_INTERVAL_S);
  const runningS = runningTime(track, atS);
  out.x = track.x.position + runningS * track.x.velocity;
  out.y = track.y.position + runningS * track.y.velocity;
  out.z = track.z.position + runningS * track.z.velocity;
  const moving = atS - track.acceptedS <= options.maxPredictionS ? 1 : 0;
  out.vx = moving * track.x.velocity;
  out.vy = moving * track.y.velocity;
  out.vz = moving * track.z.velocity;
  out.sigmaHorizontalM = sigmaAfter(horizontal, intervalS, options.accelerationDensityHorizontal);
  out.sigmaVerticalM = sigmaAfter(vertical, intervalS, options.accelerationDensityVertical);
  out.ageS = atS - track.acceptedS;
  return true;
}

/** Square root of the position variance after a time update: P11 + 2 T P12 + T^2 P22 + q T^3 / 3. */
function sigmaAfter(p: Readonly<Covariance>, intervalS: number, density: number): number {
  const variance =
    p.p11 + intervalS * (2 * p.p12 + intervalS * (p.p22 + (density * intervalS) / 3));
  return Math.sqrt(Math.min(variance, MAX_VARIANCE));
}
