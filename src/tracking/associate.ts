import { assessMeasurement } from './bank-update.js';
import { learnApart } from './conflict.js';
import { learnInnovation } from './noise.js';
import type { Sighting } from './sighting.js';
import { TRACKER, type Track } from './track.js';

/** The share of reports that are off is taken over about this long, s: an obstruction, not a burst. */
const OFF_MEMORY_S = 20;
/** Reports count as outliers above this probability. */
const HALF = 0.5;

/**
 * Does the report belong to the track? Fills `scratch.assessment`, and updates what is known of its tracker.
 */
export function associate(track: Track, s: Readonly<Sighting>): void {
  const { options, trackers, floor, scratch } = track;
  const { measured, assessment } = scratch;
  const at = s.tracker * TRACKER.count;
  learnApart(track, s);
  const lastS = trackers[at + TRACKER.lastS] as number;
  const sinceS = Number.isNaN(lastS) ? 0 : Math.max(0, s.timeS - lastS);
  measured.outlierPrior = outlierPrior(track, at, sinceS);
  measured.outlierM2 = options.outliers.spreadM ** 2;
  assessMeasurement(floor, s.tracker, measured.place, measured.floorM2, measured, assessment);
  learnInnovation(track, s.tracker);
  const outlier = 1 - assessment.association;
  trackers[at + TRACKER.outlier] = outlier;
  average(trackers, at + TRACKER.outlierShare, outlier, sinceS / options.outlierMemoryS);
  const isOff = outlier > HALF ? 1 : 0;
  average(trackers, at + TRACKER.offShare, isOff, Math.min(sinceS, 1) / OFF_MEMORY_S);
}

/** Running mean; `memories`: the time since the last value as a share of the mean's memory. */
function average(numbers: Float64Array, slot: number, value: number, memories: number): void {
  const mean = numbers[slot] as number;
  numbers[slot] = mean - Math.expm1(-memories) * (value - mean);
}

/**
 * Probability that the next report is an outlier: a two-state Markov chain in continuous time, so that
 * a burst makes its neighbours suspect. With rates a (in) and b = 1 / burstS (out),
 *   p(T) = p_rest + (p_last - p_rest) exp(-(a + b) T),  p_rest = a / (a + b).
 */
function outlierPrior({ options, trackers }: Track, at: number, sinceS: number): number {
  const { burstsPerS, burstS } = options.outliers;
  const rate = burstsPerS + 1 / burstS;
  const rest = burstsPerS / rate;
  const last = trackers[at + TRACKER.outlier] as number;
  const p = rest + (last - rest) * Math.exp(-rate * sinceS);
  // Never certain, because then no report could change it.
  return Math.min(0.999, Math.max(1e-4, p));
}
