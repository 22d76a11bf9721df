import type { TrackerFit } from './options.js';
import type { Sighting } from './sighting.js';
import { TRACKER, type Track } from './track.js';

/**
 * How far a tracker's reports really scatter from one to the next, learnt from three in a row: the second
 * difference z0 - 2 z1 + z2 leaves out place and velocity, and of white noise of deviation s along an axis
 * it has the deviation s sqrt(1 + 4 + 1). Its length across the floor is Rayleigh distributed, with the
 * median s sqrt 6 sqrt(2 ln 2) = 2.884 s. The median is followed by steps up and down of the same size in
 * its logarithm, so that bursts of outliers count as no more than one step each.
 */
const MEDIAN_OF_ONE = Math.sqrt(6 * 2 * Math.log(2));
/** A step, as a share: the noise can double in two seconds at 40 Hz, and what is learnt varies by some 10 %. */
const STEP = 0.03;
/** If reports are farther apart than this, turns and stops of the body would be taken for noise, s. */
const LONGEST_INTERVAL_S = 0.15;
/** Two intervals that differ by more than this share leave some of the velocity in the difference. */
const EVEN = 0.5;
/**
 * Scatter above this multiple of the declared value can't come from the variation of the running median, and the
 * filter's noise grows; steeply, because the wandering part grows with it and is not seen here: only a third or so of
 * the noise of radio is white. It never falls below what is declared.
 */
const FROM = 1.3;
const STEEP = 4;
const MOST_TIMES = 4;
/** A few outliers don't mean that the rest is worse than usual. */
const USUALLY_OFF = 0.03;
/** With more outliers the other reports wander too, slowly: noise added at a share of 1. */
const OFF_STEEP = 8;

/** Noise of a tracker as a share of the performer's declared `whiteM`: its own as declared, or as learnt. */
export function noiseShareOf({ trackers, fits, options }: Track, tracker: number): number {
  const { noiseShare } = fits[tracker] as TrackerFit;
  const at = tracker * TRACKER.count;
  const ratio =
    (trackers[at + TRACKER.noiseM] as number) / (options.horizontal.whiteM * noiseShare);
  const scatter = Math.min(MOST_TIMES, Math.max(1, 1 + STEEP * (ratio - FROM)));
  const off = Math.max(0, (trackers[at + TRACKER.offShare] as number) - USUALLY_OFF);
  return noiseShare * (scatter + OFF_STEEP * off);
}

/** Takes the distance of a report from where the track expected it into the median of its tracker. */
export function learnInnovation(track: Track, tracker: number): void {
  followMedian(track, tracker, TRACKER.innovationM, track.scratch.assessment.innovationM);
}

/** How much larger a tracker's innovations are than its declared noise explains, metres; 0 if not at all. */
export function unexplainedM(track: Readonly<Track>, tracker: number): number {
  const medianM = track.trackers[tracker * TRACKER.count + TRACKER.innovationM] as number;
  return Math.max(0, medianM - declaredM(track, tracker));
}

function declaredM({ fits, options }: Readonly<Track>, tracker: number): number {
  return options.horizontal.whiteM * (fits[tracker] as TrackerFit).noiseShare;
}

/** A running median that is never below what is declared. */
function followMedian(track: Track, tracker: number, slot: number, value: number): void {
  const at = tracker * TRACKER.count + slot;
  const median = Math.max(declaredM(track, tracker), track.trackers[at] as number);
  track.trackers[at] = value > median ? median * (1 + STEP) : median / (1 + STEP);
}

/** Takes a report into what is learnt; `note` must still have those before it. */
export function learnNoise(track: Track, at: number, s: Readonly<Sighting>): void {
  const t = track.trackers;
  const lastS = t[at + TRACKER.lastS] as number;
  const beforeS = t[at + TRACKER.beforeS] as number;
  const now = s.timeS - lastS;
  const before = lastS - beforeS;
  const isEven = now <= LONGEST_INTERVAL_S && Math.abs(now - before) <= EVEN * before;
  if (isEven) {
    const x = s.x - 2 * (t[at + TRACKER.lastX] as number) + (t[at + TRACKER.beforeX] as number);
    const y = s.y - 2 * (t[at + TRACKER.lastY] as number) + (t[at + TRACKER.beforeY] as number);
    followMedian(track, s.tracker, TRACKER.noiseM, Math.sqrt(x * x + y * y) / MEDIAN_OF_ONE);
  }
  t[at + TRACKER.beforeS] = lastS;
  t[at + TRACKER.beforeX] = t[at + TRACKER.lastX] as number;
  t[at + TRACKER.beforeY] = t[at + TRACKER.lastY] as number;
}
