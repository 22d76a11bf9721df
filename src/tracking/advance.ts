import { predictBank, resetBank } from './bank.js';
import { forgetCorrections, holdAim, releaseAim } from './blend.js';
import { considerCandidate, dropCandidate } from './candidate.js';
import { forgetApart, learnApart } from './conflict.js';
import { freshnessOf, learnHabit } from './habit.js';
import type { NoiseOptions } from './options.js';
import { learnScatter, noiseShareOf } from './scatter.js';
import type { Sighting, Verdict } from './sighting.js';
import { SLOT, TRACKER, type Track } from './track.js';
import { applyMeasurement, assessMeasurement, clearAssessment } from './update.js';
import { placeOf, turnHeading, wornDoubt } from './worn.js';

/** A silence of a day is as good as endless. */
const MAX_INTERVAL_S = 86_400;
/** A report of no quality at all counts as this much noisier (standard deviation of the white part). */
const WORST_QUALITY_FACTOR = 10;
/** Sharpness of the running average of the interval: about the last ten reports. */
const AVERAGING = 0.1;
/** The running mean of the NIS is taken over about this long, s: a passage, not a step. */
const SURPRISE_MEMORY_S = 3;
/** And one report counts for no more than this, in degrees of freedom: a burst is the gate's business. */
const MOST_SURPRISE = 6;
/** The share of reports that are off is taken over about this long, s: an obstruction, not a burst. */
const OFF_MEMORY_S = 20;
/** Of them count those that are outliers with more than this probability. */
const HALF = 0.5;
/** A report that belongs to the track with less than this probability may speak for another place. */
const ELSEWHERE_PROBABILITY = 0.1;
/** A pause longer than this is a silence, and tells nothing of the usual interval. */
const LONGEST_USUAL_INTERVAL_S = 1;

/** Takes one report in order of time into the track; `observe` puts late ones in their place first. */
export function advance(track: Track, s: Readonly<Sighting>): Verdict {
  const { options, numbers, trackers, floor, height, room } = track;
  clearAssessment(room.assessment);
  const at = s.tracker * TRACKER.count;
  learnHabit(track, s);
  // A feed that hangs says nothing of where the performer is: its reports are no reports.
  if (freshnessOf(track, s.tracker, s.timeS) === 0) {
    trackers[at + TRACKER.lastS] = s.timeS;
    return 'frozen';
  }
  placeOf(track, s);
  shareNoise(track);
  if (numbers[SLOT.started] === 0) {
    begin(track, s);
    note(track, at, s);
    return 'started';
  }
  const intervalS = s.timeS - (numbers[SLOT.timeS] as number);
  if (intervalS > options.forgetS || numbers[SLOT.afresh] === 1) {
    begin(track, s);
    note(track, at, s);
    return 'reacquired';
  }
  holdAim(track, numbers[SLOT.timeS] as number, s.arrivalS);
  predictBank(floor, intervalS, options.regimeMemoryS, options.horizontal);
  predictBank(height, intervalS, options.regimeMemoryS, options.vertical);
  numbers[SLOT.timeS] = s.timeS;

  learnApart(track, s);
  const sinceS = s.timeS - lastOr(trackers, at, s.timeS);
  const prior = outlierPrior(track, at, sinceS);
  const outlierVariance = options.outliers.spreadM ** 2;
  const { assessment } = room;
  const white = whiteVariance(options.horizontal, track, s) + wornDoubt(track, s);
  assessMeasurement(floor, s.tracker, room.place, white, prior, outlierVariance, assessment);
  const outlier = 1 - assessment.belief;
  trackers[at + TRACKER.outlier] = outlier;
  const share = trackers[at + TRACKER.outlierShare] as number;
  const fresh = -Math.expm1(-sinceS / options.outlierMemoryS);
  trackers[at + TRACKER.outlierShare] = share + fresh * (outlier - share);
  const off = trackers[at + TRACKER.offShare] as number;
  const freshOff = -Math.expm1(-Math.min(sinceS, 1) / OFF_MEMORY_S);
  trackers[at + TRACKER.offShare] = off + freshOff * ((outlier > HALF ? 1 : 0) - off);

  const isElsewhere = assessment.belief < ELSEWHERE_PROBABILITY;
  const sinceCandidateS = isElsewhere ? considerCandidate(track, s) : undefined;
  if (sinceCandidateS !== undefined) {
    begin(track, s);
    numbers[SLOT.beganS] = sinceCandidateS;
    note(track, at, s);
    return 'reacquired';
  }
  if (assessment.belief < options.gateProbability) {
    releaseAim(track, s.timeS, s.arrivalS);
    note(track, at, s);
    return 'gated';
  }
  applyMeasurement(floor, s.tracker, room.place);
  if (track.isWornAside) turnHeading(track, intervalS);
  takeHeight(track, s, prior, outlierVariance);
  releaseAim(track, s.timeS, s.arrivalS);
  const acceptedAfterS = Math.min(
    s.timeS - (numbers[SLOT.acceptedS] as number),
    LONGEST_USUAL_INTERVAL_S,
  );
  const surprise = numbers[SLOT.surprise] as number;
  const now = Math.min(MOST_SURPRISE, assessment.nis / 2);
  numbers[SLOT.surprise] =
    surprise - Math.expm1(-acceptedAfterS / SURPRISE_MEMORY_S) * (now - surprise);
  const usualS = numbers[SLOT.intervalS] as number;
  numbers[SLOT.intervalS] = usualS + (usualS === 0 ? 1 : AVERAGING) * (acceptedAfterS - usualS);
  numbers[SLOT.acceptedS] = s.timeS;
  numbers[SLOT.arrivedS] = Math.max(numbers[SLOT.arrivedS] as number, s.arrivalS);
  if (!isElsewhere) dropCandidate(track);
  note(track, at, s);
  return 'accepted';
}

export function limitedInterval(intervalS: number): number {
  return Math.min(Math.max(0, intervalS), MAX_INTERVAL_S);
}

/** A sensor that calls its own report half as good is believed as if its white noise were doubled. */
function whiteVariance({ whiteM }: NoiseOptions, track: Track, s: Readonly<Sighting>): number {
  const worse = 1 / Math.max(1 / WORST_QUALITY_FACTOR, Math.min(1, s.quality));
  return (whiteM * worse * noiseShareOf(track, s.tracker)) ** 2;
}

/** Each tracker's bias is as much larger or smaller than usual as its noise. */
function shareNoise(track: Track): void {
  for (let k = 0; k < track.trackerCount; k++) {
    const share = noiseShareOf(track, k) ** 2;
    track.floor.biasShare[k] = share;
    track.height.biasShare[k] = share;
  }
}

function lastOr(trackers: Float64Array, at: number, otherwise: number): number {
  const last = trackers[at + TRACKER.lastS] as number;
  return Number.isNaN(last) ? otherwise : Math.min(last, otherwise);
}

/** The track begins at the report, at rest. */
function begin(track: Track, s: Readonly<Sighting>): void {
  const { options, numbers, floor, room } = track;
  numbers[SLOT.headingX] = 0;
  numbers[SLOT.headingY] = 0;
  placeOf(track, s);
  const white = whiteVariance(options.horizontal, track, s) + wornDoubt(track, s);
  resetBank(floor, s.tracker, room.place, options.horizontal, white);
  restartHeight(track, s);
  if (numbers[SLOT.started] === 1) numbers[SLOT.restarts] = (numbers[SLOT.restarts] as number) + 1;
  numbers[SLOT.started] = 1;
  numbers[SLOT.beganS] = s.timeS;
  numbers[SLOT.timeS] = s.timeS;
  numbers[SLOT.acceptedS] = s.timeS;
  numbers[SLOT.arrivedS] = s.arrivalS;
  numbers[SLOT.intervalS] = 0;
  numbers[SLOT.verticalSinceS] = Number.NaN;
  numbers[SLOT.afresh] = 0;
  forgetCorrections(track);
  forgetApart(track);
  track.trackers[s.tracker * TRACKER.count + TRACKER.outlier] = 0;
  dropCandidate(track);
}

/**
 * Probability that the next report is an outlier: a two-state Markov chain in continuous time, so that
 * a burst makes its neighbours suspect. With rates a (in) and b = 1 / burstS (out),
 *   p(T) = p_rest + (p_last - p_rest) exp(-(a + b) T),  p_rest = a / (a + b).
 */
function outlierPrior(track: Track, at: number, sinceS: number): number {
  const { burstsPerS, burstS } = track.options.outliers;
  const rate = burstsPerS + 1 / burstS;
  const rest = burstsPerS / rate;
  const last = track.trackers[at + TRACKER.outlier] as number;
  const p = rest + (last - rest) * Math.exp(-rate * sinceS);
  // Never certain, or no report could change it.
  return Math.min(0.999, Math.max(1e-4, p));
}

/** The height of a report whose place is believed; a height that is not, for long enough, begins anew. */
function takeHeight(
  track: Track,
  s: Readonly<Sighting>,
  prior: number,
  outlierVariance: number,
): void {
  const { options, numbers, height, room } = track;
  const a = room.heightAssessment;
  const white = whiteVariance(options.vertical, track, s);
  assessMeasurement(height, s.tracker, room.height, white, prior, outlierVariance, a);
  if (a.belief >= options.gateProbability) {
    applyMeasurement(height, s.tracker, room.height);
    numbers[SLOT.verticalSinceS] = Number.NaN;
    return;
  }
  if (Number.isNaN(numbers[SLOT.verticalSinceS] as number)) numbers[SLOT.verticalSinceS] = s.timeS;
  if (s.timeS - (numbers[SLOT.verticalSinceS] as number) < options.reacquireS) return;
  restartHeight(track, s);
  numbers[SLOT.verticalSinceS] = Number.NaN;
}

function restartHeight(track: Track, s: Readonly<Sighting>): void {
  const { vertical } = track.options;
  const white = whiteVariance(vertical, track, s);
  resetBank(track.height, s.tracker, track.room.height, vertical, white);
}

/** Keeps what the tracker said last. */
function note(track: Track, at: number, s: Readonly<Sighting>): void {
  const t = track.trackers;
  learnScatter(track, at, s);
  t[at + TRACKER.lastS] = s.timeS;
  t[at + TRACKER.lastX] = s.x;
  t[at + TRACKER.lastY] = s.y;
  t[at + TRACKER.lastZ] = s.z;
  t[at + TRACKER.quality] = Math.min(1, Math.max(0, s.quality));
}
