import type { Estimate, Track } from './track.js';

export interface ConfidenceOptions {
  /** Reports this much older than usual begin to count against the track, and count fully, seconds. */
  readonly ageGoodS: number;
  readonly ageLostS: number;
  /** Horizontal standard deviation at which doubt begins, and at which nothing is known, metres. */
  readonly spreadGoodM: number;
  readonly spreadLostM: number;
  /** Distance outside of the stage at which doubt begins to be complete, metres. */
  readonly outsideLostM: number;
  /** Speed at which doubt begins, and that nobody can have, metres a second. */
  readonly speedGoodMps: number;
  readonly speedLostMps: number;
}

export const DEFAULT_CONFIDENCE: ConfidenceOptions = {
  // Two reports missed at the 10 Hz of a slow tracker, and the common half-second watchdog doubled. Common practice.
  ageGoodS: 0.25,
  ageLostS: 1,
  // A head light of a metre across still holds a performer at 0.3 m; at 1 m it misses. Common practice.
  spreadGoodM: 0.3,
  spreadLostM: 1,
  outsideLostM: 2,
  // Walking as fast as people can 2.53 m/s (Bohannon 1997), running far below a sprint; sprint peak
  // 9.46 m/s (di Prampero et al. 2005).
  speedGoodMps: 7,
  speedLostMps: 10.5,
};

/** How far an estimate is to be believed, and why: each part 0..1, `value` their product. */
export interface Confidence {
  value: number;
  age: number;
  spread: number;
  quality: number;
  gate: number;
  bounds: number;
  speed: number;
}

export function createConfidence(): Confidence {
  return { value: 0, age: 0, spread: 0, quality: 0, gate: 0, bounds: 0, speed: 0 };
}

/**
 * @param estimate of the track, at the moment of light
 * @param nowS monotonic seconds
 * @param outsideM metres outside of the stage bounds
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
  // By arrival, so that a sensor that is slow but steady does not count as late.
  const lateS = nowS - track.arrivedS - track.intervalS;
  out.age = track.started ? ramp(lateS, options.ageGoodS, options.ageLostS) : 0;
  out.spread = ramp(estimate.sigmaHorizontalM, options.spreadGoodM, options.spreadLostM);
  out.quality = ramp(1 - track.quality, 0, 1);
  out.gate = ramp(track.gatedShare, 0.3, 1);
  out.bounds = ramp(outsideM, 0, options.outsideLostM);
  const speed = Math.hypot(estimate.vx, estimate.vy, estimate.vz);
  out.speed = ramp(speed, options.speedGoodMps, options.speedLostMps);
  out.value = out.age * out.spread * out.quality * out.gate * out.bounds * out.speed;
  return out.value;
}

/** 1 up to `good`, straight down to 0 at `lost`; NaN gives 0. */
function ramp(value: number, good: number, lost: number): number {
  if (value <= good) return 1;
  return value < lost ? (lost - value) / (lost - good) : 0;
}
