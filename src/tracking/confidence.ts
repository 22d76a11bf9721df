import { insistedForS } from './candidate.js';
import { APART_M, conflictM } from './conflict.js';
import { freshnessOf, LEAST_REPEATED_S } from './freeze.js';
import { unexplainedM } from './noise.js';
import type { Estimate } from './sighting.js';
import { hasStarted, SLOT, TRACKER, type Track } from './track.js';

export interface ConfidenceOptions {
  /** Reports this much older than usual begin to count against the track, and count fully, seconds. */
  readonly ageGoodS: number;
  readonly ageLostS: number;
  /** Horizontal standard deviation at which doubt begins, and at which nothing is known, metres. */
  readonly spreadGoodM: number;
  readonly spreadLostM: number;
  /** Recent share of outliers at which doubt begins, and is complete. */
  readonly outliersGood: number;
  readonly outliersLost: number;
  /** Distance outside the stage at which doubt is complete, metres. */
  readonly outsideLostM: number;
  /** Speed at which doubt begins, and that nobody can have, metres a second. */
  readonly speedGoodMps: number;
  readonly speedLostMps: number;
  /** Gated reports that agree on another place for this long begin to count, and count fully, seconds. */
  readonly elsewhereGoodS: number;
  readonly elsewhereLostS: number;
  /** Share of outliers in the last 20 s at which full confidence ends, and at which nothing would be known. */
  readonly offGood: number;
  readonly offLost: number;
  /** Median excess of innovations over the declared noise at which the same happens, metres. */
  readonly unexplainedGoodM: number;
  readonly unexplainedLostM: number;
  /** How far apart trackers of one performer must stand for doubt to be complete, metres. */
  readonly conflictLostM: number;
}

export const DEFAULT_CONFIDENCE: ConfidenceOptions = {
  // Two reports missed at the 10 Hz of a slow tracker, and the common half-second watchdog doubled. Common practice.
  ageGoodS: 0.25,
  ageLostS: 1,
  // A beam a metre across still holds a performer 0.3 m off; at 1.2 m it misses. Common practice.
  spreadGoodM: 0.3,
  spreadLostM: 1.2,
  // A burst of ten reports at 40 Hz passes; where most reports are wrong, nothing is known. Common practice.
  outliersGood: 0.4,
  outliersLost: 0.9,
  outsideLostM: 2,
  // Walking as fast as people can 2.53 m/s (Bohannon 1997), running far below a sprint; sprint peak
  // 9.46 m/s (di Prampero et al. 2005).
  speedGoodMps: 7,
  speedLostMps: 10.5,
  // Bursts of outliers mostly last less than the first; half of the doubt comes after 0.35 s. Common practice.
  elsewhereGoodS: 0.15,
  elsewhereLostS: 0.55,
  offGood: 0.05,
  offLost: 1,
  unexplainedGoodM: 0.05,
  unexplainedLostM: 1.5,
  conflictLostM: 2,
};

export const CONFIDENCE_PARTS = [
  'age',
  'frozen',
  'gate',
  'elsewhere',
  'conflict',
  'bounds',
  'speed',
  'quality',
  'spread',
] as const;
export type ConfidencePart = (typeof CONFIDENCE_PARTS)[number];

/**
 * How far an estimate can be relied on, and why: each part 0..1, `value` the least of them, so that "why" has one
 * answer: `reason`, undefined if all parts are 1.
 */
export interface Confidence extends Record<ConfidencePart, number> {
  value: number;
  reason: ConfidencePart | undefined;
}

export function createConfidence(): Confidence {
  return {
    value: 0,
    reason: 'age',
    age: 0,
    frozen: 0,
    gate: 0,
    elsewhere: 0,
    conflict: 0,
    bounds: 0,
    speed: 0,
    quality: 0,
    spread: 0,
  };
}

/**
 * @param estimate of the track, at the moment of light
 * @param nowS monotonic seconds
 * @param outsideM metres outside the stage bounds
 * @returns `out.value`
 */
export function assessConfidence(
  track: Readonly<Track>,
  estimate: Readonly<Estimate>,
  nowS: number,
  outsideM: number,
  out: Confidence,
  options: ConfidenceOptions = DEFAULT_CONFIDENCE,
): number {
  const { numbers } = track;
  // By arrival, so that a slow but steady sensor does not count as late.
  const lateS = nowS - (numbers[SLOT.arrivedS] as number) - (numbers[SLOT.intervalS] as number);
  out.age = hasStarted(track) ? ramp(lateS, options.ageGoodS, options.ageLostS) : 0;
  out.spread = ramp(estimate.sigmaHorizontalM, options.spreadGoodM, options.spreadLostM);
  out.bounds = ramp(outsideM, 0, options.outsideLostM);
  const { vx, vy, vz } = estimate;
  // Math.hypot guards against squares that overflow, which no speed does, and is several times slower.
  const speed = Math.sqrt(vx * vx + vy * vy + vz * vz);
  out.speed = ramp(speed, options.speedGoodMps, options.speedLostMps);
  out.elsewhere = ramp(insistedForS(track), options.elsewhereGoodS, options.elsewhereLostS);
  out.conflict = ramp(conflictM(track, nowS), APART_M, options.conflictLostM);
  assessTrackers(track, options, out);
  out.value = 1;
  out.reason = undefined;
  for (const part of CONFIDENCE_PARTS) {
    if (out[part] >= out.value) continue;
    out.value = out[part];
    out.reason = part;
  }
  // Reports come, but for another place: none is accepted, so the last accepted one grows old.
  if (out.reason === 'age' && out.elsewhere < 1) out.reason = 'elsewhere';
  else if (out.reason === 'age' && out.gate < 1 && isHeard(track, nowS, options))
    out.reason = 'gate';
  return out.value;
}

/**
 * The parts of the performer's best tracker: losing one of several is no event. Trackers silent for `ageLostS` longer
 * than the one heard last are left out; if that one is frozen, trackers silent for as long as makes a repetition
 * doubtful: then none speaks for the performer.
 */
function assessTrackers(track: Readonly<Track>, options: ConfidenceOptions, out: Confidence): void {
  const { trackers, trackerCount, numbers } = track;
  let heard = 0;
  for (let k = 1; k < trackerCount; k++) {
    if (!(lastS(track, heard) >= lastS(track, k))) heard = k;
  }
  const hangs = freshnessOf(track, heard) === 0;
  const newestS = hangs ? lastS(track, heard) : (numbers[SLOT.timeS] as number);
  const silentAfterS = hangs ? LEAST_REPEATED_S : options.ageLostS;
  let best = -1;
  out.gate = 0;
  out.quality = 0;
  out.frozen = 0;
  for (let k = 0; k < trackerCount; k++) {
    const at = k * TRACKER.count;
    if (!(newestS - lastS(track, k) < silentAfterS)) continue;
    const frozen = freshnessOf(track, k);
    const outliers = trackers[at + TRACKER.outlierShare] as number;
    const off = trackers[at + TRACKER.offShare] as number;
    const gate = Math.min(
      ramp(outliers, options.outliersGood, options.outliersLost),
      ramp(off, options.offGood, options.offLost),
      ramp(unexplainedM(track, k), options.unexplainedGoodM, options.unexplainedLostM),
    );
    const quality = trackers[at + TRACKER.quality] as number;
    const health = Math.min(frozen, gate, quality);
    if (health <= best) continue;
    best = health;
    out.frozen = frozen;
    out.gate = gate;
    out.quality = quality;
  }
}

/** Reports still come, accepted or not. */
function isHeard(track: Readonly<Track>, nowS: number, { ageGoodS }: ConfidenceOptions): boolean {
  const withinS = ageGoodS + (track.numbers[SLOT.intervalS] as number);
  for (let k = 0; k < track.trackerCount; k++) {
    if (nowS - lastS(track, k) <= withinS) return true;
  }
  return false;
}

function lastS({ trackers }: Readonly<Track>, tracker: number): number {
  return trackers[tracker * TRACKER.count + TRACKER.lastS] as number;
}

/** 1 up to `good`, straight down to 0 at `lost`; NaN gives 0. */
function ramp(value: number, good: number, lost: number): number {
  if (value <= good) return 1;
  return value < lost ? (lost - value) / (lost - good) : 0;
}
