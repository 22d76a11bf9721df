import { DEFAULT_WATCHDOG } from '../../safety/options.js';
import { createWatch, type Observation, stepWatch } from '../../safety/watchdog.js';
import { vec3 } from '../../stage/vector.js';
import { createSensorClock, isInDoubt, toOurTime } from '../../tracking/clock.js';
import { assessConfidence, createConfidence } from '../../tracking/confidence.js';
import { observe } from '../../tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS, optionsForNoise } from '../../tracking/options.js';
import { predict } from '../../tracking/predict.js';
import { createEstimate } from '../../tracking/sighting.js';
import { createTrack } from '../../tracking/track.js';
import { truthAt } from '../sensors/truth.js';
import { TICK_S } from './assess.js';
import type { SweepCase } from './sweep-cases.js';

/** How a case went, over all its runs together. */
export interface SweepFigures {
  /** Across the floor at the moment of light, metres. */
  readonly rmse: number;
  readonly p95: number;
  readonly worst: number;
  /** RMS error of the height, metres. */
  readonly height: number;
  /** RMS acceleration of the aim, m/s². */
  readonly roughness: number;
  /** How often the track began anew elsewhere, and how often the watchdog took the light away, per minute. */
  readonly jumps: number;
  readonly trips: number;
  /** Share of the moments at full confidence that are more than 1 m off, in space. */
  readonly sure: number;
  /** Share of the moments within 0.5 m at which confidence is below a half. */
  readonly doubted: number;
}

export interface SweepResult extends SweepFigures {
  readonly name: string;
}

export const SWEEP_HORIZON_S = 0.1;
export const SWEEP_RUNS = 5;
/** Nothing is counted until a track has settled and the watchdog has let it go live, seconds. */
const SETTLE_S = 3;

export function sweepCase(one: SweepCase, seed: number): SweepResult {
  const errors: number[] = [];
  const sums = { square: 0, height2: 0, bend2: 0, jumps: 0, trips: 0 };
  const counts = { full: 0, fullOff: 0, near: 0, nearDoubted: 0 };
  for (let run = 0; run < SWEEP_RUNS; run++)
    play(one, seed * SWEEP_RUNS + run, errors, sums, counts);
  const n = errors.length;
  const sorted = Float64Array.from(errors).sort();
  const minutes = (n * TICK_S) / 60;
  return {
    name: one.name,
    rmse: Math.sqrt(sums.square / n),
    p95: sorted[Math.floor(0.95 * n)] ?? Number.NaN,
    worst: sorted.at(-1) ?? Number.NaN,
    height: Math.sqrt(sums.height2 / n),
    roughness: Math.sqrt(sums.bend2 / n) / TICK_S ** 2,
    jumps: sums.jumps / minutes,
    trips: sums.trips / minutes,
    sure: counts.full === 0 ? 0 : counts.fullOff / counts.full,
    doubted: counts.near === 0 ? 0 : counts.nearDoubted / counts.near,
  };
}

/** One run. As in the engine, stamped reports go through the sensor's clock, others are timed by their arrival. */
function play(
  { truth, deliveries, declaredNoiseM, trackers = 1 }: SweepCase,
  seed: number,
  errors: number[],
  sums: { square: number; height2: number; bend2: number; jumps: number; trips: number },
  counts: { full: number; fullOff: number; near: number; nearDoubted: number },
): void {
  const options =
    declaredNoiseM === undefined ? DEFAULT_TRACKING_OPTIONS : optionsForNoise(declaredNoiseM);
  const track = createTrack(options, trackers);
  const clock = createSensorClock();
  const [estimate, confidence] = [createEstimate(), createConfidence()];
  const watch = createWatch(DEFAULT_WATCHDOG);
  const feed = deliveries(seed);
  const truly = vec3(0, 0, 0);
  const endS = truth.timesS.at(-1) ?? 0;
  const past = [Number.NaN, Number.NaN, Number.NaN, Number.NaN];
  let [next, hint, heardS, isStamped] = [0, 0, Number.NEGATIVE_INFINITY, false];
  for (let n = 0; ; n++) {
    const nowS = n * TICK_S;
    const atS = nowS + SWEEP_HORIZON_S;
    if (atS > endS) return;
    let jumped = false;
    for (; next < feed.length; next++) {
      const { tracker, stampS, arrivalS, x, y, z } = feed[next] as (typeof feed)[number];
      if (arrivalS > nowS) break;
      isStamped = stampS !== undefined;
      const timeS = stampS === undefined ? arrivalS : toOurTime(clock, stampS, arrivalS);
      const verdict = observe(track, { tracker, timeS, arrivalS, x, y, z, quality: 1 });
      if (verdict === 'reacquired') jumped = true;
      heardS = arrivalS;
    }
    if (!predict(track, atS, estimate, nowS)) continue;
    assessConfidence(track, estimate, nowS, 0, confidence);
    const before = watch.phase;
    const seen: Observation = {
      seen: true,
      offStage: false,
      stopped: false,
      deskLost: false,
      feedSilent: false,
      silentForS: nowS - heardS,
      clockGone: isStamped && isInDoubt(clock),
      jumped,
      fresh: confidence.age > 0 ? confidence.frozen : 1,
      outsideM: 0,
      confidence: confidence.value,
      settled: true,
    };
    const changed = stepWatch(watch, seen, TICK_S, DEFAULT_WATCHDOG);
    const [x2, y2, x1, y1] = past as [number, number, number, number];
    past[0] = x1;
    past[1] = y1;
    past[2] = estimate.x;
    past[3] = estimate.y;
    if (nowS < SETTLE_S) continue;
    if (jumped) sums.jumps++;
    if (changed && watch.phase === 'losing' && before !== 'losing') sums.trips++;
    hint = truthAt(truth, atS, hint, truly);
    const square = (estimate.x - truly.x) ** 2 + (estimate.y - truly.y) ** 2;
    const height2 = (estimate.z - truly.z) ** 2;
    errors.push(Math.sqrt(square));
    sums.square += square;
    sums.height2 += height2;
    sums.bend2 += (estimate.x - 2 * x1 + x2) ** 2 + (estimate.y - 2 * y1 + y2) ** 2;
    const off = Math.sqrt(square + height2);
    if (confidence.value === 1) {
      counts.full++;
      if (off > 1) counts.fullOff++;
    }
    if (off <= 0.5) {
      counts.near++;
      if (confidence.value < 0.5) counts.nearDoubted++;
    }
  }
}

/** A figure is worse if it has grown by more than this share of it plus this amount: less is chance or rounding. */
const WORSE: Readonly<Record<keyof SweepFigures, { readonly share: number; readonly by: number }>> =
  {
    rmse: { share: 0.05, by: 0.01 },
    p95: { share: 0.1, by: 0.02 },
    worst: { share: 0.15, by: 0.1 },
    height: { share: 0.05, by: 0.02 },
    roughness: { share: 0.1, by: 2 },
    jumps: { share: 0, by: 0.5 },
    trips: { share: 0, by: 0.5 },
    sure: { share: 0, by: 0.005 },
    doubted: { share: 0, by: 0.01 },
  };

/** The figures in which a case went worse than before; none for a new case. */
export function worseThan(
  before: SweepFigures | undefined,
  now: SweepFigures,
): (keyof SweepFigures)[] {
  if (before === undefined) return [];
  const figures = Object.keys(WORSE) as (keyof SweepFigures)[];
  return figures.filter(key => {
    const { share, by } = WORSE[key];
    return now[key] > before[key] * (1 + share) + by;
  });
}
