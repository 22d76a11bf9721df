import type { Sighting } from '../../tracking/sighting.js';
import { type Random, seededSource } from './random.js';
import { type Truth, truthAt } from './truth.js';

/** What a radio positioning system does to a true position. Lengths are standard deviations along one axis. */
export interface SensorOptions {
  readonly rateHz: number;
  /** Standard deviation of the whole ordinary noise, m. */
  readonly noiseM: number;
  /** Share of the noise variance that wanders (the rest is white). */
  readonly colouredShare: number;
  /** Memory of the wandering part, s: lag-1 correlation exp(-1/(rate * memory)). */
  readonly noiseMemoryS: number;
  /** Share of the reports that are outliers, in bursts of `outlierRun` reports on average. */
  readonly outlierShare: number;
  readonly outlierRun: number;
  /** Distance of an outlier from the truth: from min to max, m. */
  readonly outlierMinM: number;
  readonly outlierMaxM: number;
  /** Dropouts a second, and their longest length, s (uniform from 0.1 s). */
  readonly dropoutsPerS: number;
  readonly dropoutMaxS: number;
  /** How far a body shadow pulls the position away from the hidden anchors, m; 0 for none. */
  readonly shadowM: number;
  /** Jitter of the report times, as a share of the interval. */
  readonly timeJitter: number;
}

/**
 * A middling radio system among bodies. The total noise, the share of outliers and the dropouts are assumed;
 * the colour of the noise and the length and distance of outliers are chosen after the measured recordings in
 * tests/fixtures/data/tracking (lag-1 correlation 0.53 to 0.97, outliers of metres that last for several reports).
 */
export const DEFAULT_SENSOR: SensorOptions = {
  rateHz: 40,
  noiseM: 0.1,
  colouredShare: 0.64,
  noiseMemoryS: 0.4,
  outlierShare: 0.01,
  outlierRun: 4,
  outlierMinM: 0.8,
  outlierMaxM: 5,
  dropoutsPerS: 0.1,
  dropoutMaxS: 1,
  shadowM: 0.1,
  timeJitter: 0.1,
};

/**
 * Reports of tracker 0 along a true path: coloured noise (a first-order Gauss-Markov process plus
 * white noise), bursts of outliers that stay at about one wrong place, dropouts, and body shadows.
 *
 * Shadow: the body faces the way it moves. The tracker sits on its back, so the anchors in front are hidden.
 * Longer paths round the body push the position backwards by up to `shadowM`, more when the body faces away
 * from the centre of the room; the white noise doubles with it.
 */
export function simulateSensor(truth: Truth, options: SensorOptions, seed: number): Sighting[] {
  const random = seededSource(seed);
  const sightings: Sighting[] = [];
  const first = truth.timesS[0] as number;
  const last = truth.timesS[truth.timesS.length - 1] as number;
  const step = 1 / options.rateHz;
  const keep = Math.exp(-step / options.noiseMemoryS);
  const wander = options.noiseM * Math.sqrt(options.colouredShare);
  const white = options.noiseM * Math.sqrt(1 - options.colouredShare);
  const bias = {
    x: wander * random.normal(),
    y: wander * random.normal(),
    z: wander * random.normal(),
  };
  const outlier = { left: 0, x: 0, y: 0, z: 0 };
  const enterOutlier = options.outlierShare / ((1 - options.outlierShare) * options.outlierRun);
  const centre = middle(truth);
  const here = { x: 0, y: 0, z: 0 };
  const before = { x: 0, y: 0, z: 0 };
  let facing = 2 * Math.PI * random.uniform();
  let hint = 0;
  let silentUntilS = first;
  for (let n = 0; ; n++) {
    const dueS = first + n * step;
    if (dueS > last) break;
    const timeS = dueS + (n === 0 ? 0 : options.timeJitter * step * (random.uniform() - 0.5));
    hint = truthAt(truth, timeS, hint, here);
    truthAt(truth, timeS - 0.2, Math.max(0, hint - 40), before);
    facing = turnTowards(facing, here.x - before.x, here.y - before.y, step);
    bias.x = keep * bias.x + wander * Math.sqrt(1 - keep * keep) * random.normal();
    bias.y = keep * bias.y + wander * Math.sqrt(1 - keep * keep) * random.normal();
    bias.z = keep * bias.z + wander * Math.sqrt(1 - keep * keep) * random.normal();
    // 0 facing the centre, 1 facing away from it.
    const away = 0.5 - 0.5 * Math.cos(facing - Math.atan2(centre.y - here.y, centre.x - here.x));
    const noise = white * (1 + (options.shadowM > 0 ? away * away : 0));
    const pull = options.shadowM * away * away;
    let x = here.x + bias.x + noise * random.normal() - pull * Math.cos(facing);
    let y = here.y + bias.y + noise * random.normal() - pull * Math.sin(facing);
    let z = here.z + bias.z + noise * random.normal();
    if (outlier.left > 0) outlier.left--;
    else if (random.uniform() < enterOutlier) beginOutlier(outlier, options, random);
    if (outlier.left > 0) {
      x += outlier.x + 2 * noise * random.normal();
      y += outlier.y + 2 * noise * random.normal();
      z += outlier.z;
    }
    if (timeS >= silentUntilS && random.uniform() < options.dropoutsPerS * step) {
      silentUntilS = timeS + 0.1 + Math.max(0, options.dropoutMaxS - 0.1) * random.uniform();
    }
    if (timeS < silentUntilS && n > 0) continue;
    sightings.push({ tracker: 0, timeS, arrivalS: timeS, x, y, z, quality: 1 });
  }
  return sightings;
}

function middle(truth: Truth): { x: number; y: number } {
  let x = 0;
  let y = 0;
  for (let i = 0; i < truth.xs.length; i++) {
    x += truth.xs[i] as number;
    y += truth.ys[i] as number;
  }
  return { x: x / truth.xs.length, y: y / truth.xs.length };
}

/** New facing, radians: a body turns towards its movement at up to about 4 rad/s, and keeps its facing when it stands. */
export function turnTowards(facing: number, dx: number, dy: number, step: number): number {
  if (Math.hypot(dx, dy) < 0.04) return facing;
  const wanted = Math.atan2(dy, dx);
  const turn = Math.atan2(Math.sin(wanted - facing), Math.cos(wanted - facing));
  return facing + Math.max(-4 * step, Math.min(4 * step, turn));
}

function beginOutlier(
  outlier: { left: number; x: number; y: number; z: number },
  options: SensorOptions,
  random: Random,
): void {
  // Geometric with mean outlierRun.
  outlier.left =
    1 + Math.floor(Math.log(1 - random.uniform()) / Math.log(1 - 1 / options.outlierRun));
  const direction = 2 * Math.PI * random.uniform();
  const length =
    options.outlierMinM + (options.outlierMaxM - options.outlierMinM) * random.uniform();
  outlier.x = length * Math.cos(direction);
  outlier.y = length * Math.sin(direction);
  outlier.z = 0.3 * length * random.normal();
}
