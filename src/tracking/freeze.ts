import { velocityOf } from './bank.js';
import type { Sighting } from './sighting.js';
import { TRACKER, type Track } from './track.js';

/**
 * A hung feed goes on sending what it last knew. Radio never repeats itself to the last bit for long;
 * positions that are rounded do while somebody stands, and a server that sends faster than it measures does
 * even while they walk. So each tracker is judged by its own habit:
 *
 * - in the middle of a movement nobody comes to rest from one report to the next: a repetition is doubted
 *   after half a second, or twice the longest that ended well while moving;
 * - while they stand it is doubted as soon, if the tracker was seen to stand for 10 s and not to repeat
 *   itself; otherwise only after `frozenS`.
 *
 * It is doubted more and more, and after twice as long its reports are no reports any more; for a tracker that does
 * repeat itself while its wearer stands (a rounded feed, a test program) after ten times as long: it may have come to
 * rest between two reports.
 */

/** Common practice: the same as the silence allowed to a tracker. */
export const LEAST_REPEATED_S = 0.5;
/** Standing for so long without three equal reports in a row, it is known not to repeat itself, s. */
const KNOWN_AFTER_S = 10;
/** A mean step of late and a last step that are both faster than this are a movement, m/s. */
const MOVING_MPS = 0.5;
/** Steps of one tracker are averaged over about this long, s. */
const STEP_MEMORY_S = 0.1;
/** Three equal reports in a row: two happen to radio. Only a longer run is a habit. */
const RUN_INTERVALS = 1.5;
/** A run that ends with a step of no more than this was somebody standing, m. */
const SMALL_STEP_M = 0.1;
/** A tracker that repeated itself for this long while standing, and went on with a small step, has the habit, s. */
const REPEATER_AFTER_S = 1;
/** When none of its reports count any more, as a multiple of the time of first doubt. */
const LOST_AFTER = 2;
const LOST_AFTER_OF_REPEATER = 10;
/** Or a step that they can have walked meanwhile, m/s. */
const WALK_MPS = 4;
/** Longer pauses are silence, and no time in which a habit shows, s. */
const LONGEST_INTERVAL_S = 0.25;

/** Takes a report into the habit of its tracker, before it is noted as the last: does the feed hang? */
export function isFrozen(track: Track, s: Readonly<Sighting>): boolean {
  learnHabit(track, s);
  return freshnessOf(track, s.tracker, s.timeS) === 0;
}

function learnHabit(track: Track, s: Readonly<Sighting>): void {
  const { trackers: t } = track;
  const at = s.tracker * TRACKER.count;
  const lastS = t[at + TRACKER.lastS] as number;
  const intervalS = s.timeS - lastS;
  if (!(intervalS > 0)) return;
  const dx = s.x - (t[at + TRACKER.lastX] as number);
  const dy = s.y - (t[at + TRACKER.lastY] as number);
  const dz = s.z - (t[at + TRACKER.lastZ] as number);
  const same = dx === 0 && dy === 0 && dz === 0;
  const repeating = !Number.isNaN(t[at + TRACKER.repeatedSinceS] as number);
  if (same) {
    if (!repeating) t[at + TRACKER.repeatedSinceS] = lastS;
    return;
  }
  if (repeating) endRun(track, s.tracker, Math.sqrt(dx * dx + dy * dy), intervalS);
  const keep = Math.exp(-intervalS / STEP_MEMORY_S);
  const fresh = (1 - keep) / intervalS;
  const stepX = keep * (t[at + TRACKER.stepX] as number) + fresh * dx;
  const stepY = keep * (t[at + TRACKER.stepY] as number) + fresh * dy;
  t[at + TRACKER.stepX] = stepX;
  t[at + TRACKER.stepY] = stepY;
  const mean = Math.sqrt(stepX * stepX + stepY * stepY);
  const last = Math.sqrt(dx * dx + dy * dy) / intervalS;
  // After a silence, or farther than anybody can have gone, it is another place, not a movement.
  const isMoving =
    intervalS <= LONGEST_INTERVAL_S &&
    Math.min(mean, last) > MOVING_MPS &&
    Math.max(mean, last) < track.options.maxSpeedMps;
  t[at + TRACKER.repeatedMoving] = isMoving ? 1 : 0;
  // A known habit stays known until a run is seen to end well.
  if ((t[at + TRACKER.unrepeatedS] as number) >= KNOWN_AFTER_S) return;
  const speed = Math.hypot(velocityOf(track.floor, 0), velocityOf(track.floor, 1));
  // With radio, positions move while the wearer stands: the track knows better.
  if (speed < MOVING_MPS / 2) {
    t[at + TRACKER.unrepeatedS] =
      (t[at + TRACKER.unrepeatedS] as number) + Math.min(intervalS, LONGEST_INTERVAL_S);
    if ((t[at + TRACKER.unrepeatedS] as number) >= KNOWN_AFTER_S)
      t[at + TRACKER.repeatsStanding] = 0;
  }
}

/** A run has ended, with a step: was it a habit, or did the feed hang? */
function endRun(track: Track, tracker: number, stepM: number, intervalS: number): void {
  const { trackers: t } = track;
  const at = tracker * TRACKER.count;
  const lastS = t[at + TRACKER.lastS] as number;
  const runS = lastS - (t[at + TRACKER.repeatedSinceS] as number);
  const limitS = repetitionLimitS(track, tracker);
  const isFrozen = runS >= lostAfter(track, tracker) * limitS;
  t[at + TRACKER.repeatedSinceS] = Number.NaN;
  const walkedM = isFrozen ? 0 : WALK_MPS * (runS + intervalS);
  if (stepM > SMALL_STEP_M + walkedM) return;
  if (t[at + TRACKER.repeatedMoving] === 1) {
    const learntS = Math.min(runS + intervalS, 2 * limitS);
    t[at + TRACKER.longestMovingS] = Math.max(t[at + TRACKER.longestMovingS] as number, learntS);
  } else if (runS > RUN_INTERVALS * intervalS) {
    t[at + TRACKER.unrepeatedS] = 0;
    if (runS >= REPEATER_AFTER_S) t[at + TRACKER.repeatsStanding] = 1;
  }
}

/** For how long this tracker may repeat itself in its present run before it is doubted, s. */
function repetitionLimitS({ trackers: t, options }: Readonly<Track>, tracker: number): number {
  const at = tracker * TRACKER.count;
  const habitS =
    t[at + TRACKER.repeatedMoving] === 1
      ? Math.max(LEAST_REPEATED_S, 2 * (t[at + TRACKER.longestMovingS] as number))
      : (t[at + TRACKER.unrepeatedS] as number) >= KNOWN_AFTER_S
        ? LEAST_REPEATED_S
        : Number.POSITIVE_INFINITY;
  return Math.min(options.frozenS, habitS);
}

/** The multiple of its limit after which a run means a hung feed. */
function lostAfter({ trackers: t }: Readonly<Track>, tracker: number): number {
  const at = tracker * TRACKER.count;
  const mayStop = t[at + TRACKER.repeatedMoving] === 1 && t[at + TRACKER.repeatsStanding] === 1;
  return mayStop ? LOST_AFTER_OF_REPEATER : LOST_AFTER;
}

/**
 * How far a tracker's repetition is to be believed, 0..1: 1 up to its limit, then less and less.
 * @param atS of its last report, where that is not noted yet
 */
export function freshnessOf(
  track: Readonly<Track>,
  tracker: number,
  atS = track.trackers[tracker * TRACKER.count + TRACKER.lastS] as number,
): number {
  const sinceS = track.trackers[tracker * TRACKER.count + TRACKER.repeatedSinceS] as number;
  if (Number.isNaN(sinceS)) return 1;
  const lost = lostAfter(track, tracker);
  const times = (atS - sinceS) / repetitionLimitS(track, tracker);
  return Math.min(1, Math.max(0, (lost - times) / (lost - 1)));
}
