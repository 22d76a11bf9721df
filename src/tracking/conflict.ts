import { momentsAhead } from './bank-predict.js';
import { freshnessOf } from './freeze.js';
import type { Sighting } from './sighting.js';
import { TRACKER, type Track } from './track.js';

/**
 * Trackers of one performer that disagree: one of them is not where the performer is, and nothing says which. For
 * each tracker, a running mean of how far its reports, gated or not, are from the track.
 */

/** Mean over about this long, s: longer than a burst of outliers. */
const MEMORY_S = 1;
/** A report counts as no farther than this: a burst must not count as a place. */
const FARTHEST_M = 3;
/** Farther apart than this on average, two trackers are not on one body, m: arm span, and noise. */
export const APART_M = 1;
/** Trackers that were silent for longer say nothing, s. */
const HEARD_WITHIN_S = 1;

/** Takes a report into the mean of its tracker; `scratch.measured.place` has where it puts the performer. */
export function learnApart(
  { trackers, trackerCount, floor, scratch }: Track,
  s: Readonly<Sighting>,
): void {
  if (trackerCount < 2) return;
  const at = s.tracker * TRACKER.count;
  momentsAhead(floor, 0);
  const dx = (scratch.measured.place[0] as number) - (floor.outMean[0] as number);
  const dy = (scratch.measured.place[1] as number) - (floor.outMean[2] as number);
  const far = Math.sqrt(dx * dx + dy * dy);
  const share = far > FARTHEST_M ? FARTHEST_M / far : 1;
  const sinceS = s.timeS - (trackers[at + TRACKER.lastS] as number);
  const fresh = Number.isNaN(sinceS)
    ? 0
    : -Math.expm1(-Math.min(Math.max(0, sinceS), 1) / MEMORY_S);
  const x = trackers[at + TRACKER.apartX] as number;
  const y = trackers[at + TRACKER.apartY] as number;
  trackers[at + TRACKER.apartX] = x + fresh * (share * dx - x);
  trackers[at + TRACKER.apartY] = y + fresh * (share * dy - y);
}

/**
 * Distance from the track of the farthest tracker, metres, if no majority of trackers agrees with the track; 0
 * otherwise. A majority is believed; silent and frozen trackers don't count.
 */
export function conflictM(track: Readonly<Track>, nowS: number): number {
  const { trackers, trackerCount } = track;
  let [agree, differ, farthest] = [0, 0, 0];
  for (let k = 0; k < trackerCount; k++) {
    const at = k * TRACKER.count;
    if (!(nowS - (trackers[at + TRACKER.lastS] as number) < HEARD_WITHIN_S)) continue;
    if (freshnessOf(track, k) < 1) continue;
    const x = trackers[at + TRACKER.apartX] as number;
    const y = trackers[at + TRACKER.apartY] as number;
    const apart = Math.sqrt(x * x + y * y);
    if (apart < APART_M) agree++;
    else differ++;
    farthest = Math.max(farthest, apart);
  }
  return agree + differ < 2 || agree > differ ? 0 : farthest;
}

/** Two trackers, by their place in the track, and how far their last reports are from each other, metres. */
export interface Pair {
  readonly first: number;
  readonly second: number;
  readonly apartM: number;
}

/** Of those that are heard and not frozen, the two that are farthest from each other; undefined: fewer than two are. */
export function farthestPair(track: Readonly<Track>, nowS: number): Pair | undefined {
  const { trackers, trackerCount } = track;
  const speaks = (k: number) =>
    nowS - (trackers[k * TRACKER.count + TRACKER.lastS] as number) < HEARD_WITHIN_S &&
    freshnessOf(track, k) === 1;
  const at = (k: number, slot: number) => trackers[k * TRACKER.count + slot] as number;
  let found: Pair | undefined;
  for (let first = 0; first < trackerCount; first++) {
    for (let second = first + 1; second < trackerCount; second++) {
      if (!speaks(first) || !speaks(second)) continue;
      const apartM = Math.hypot(
        at(first, TRACKER.lastX) - at(second, TRACKER.lastX),
        at(first, TRACKER.lastY) - at(second, TRACKER.lastY),
      );
      if (apartM > (found?.apartM ?? 0)) found = { first, second, apartM };
    }
  }
  return found;
}

/** A new place: what trackers said about the old one no longer matters. */
export function forgetApart({ trackers, trackerCount }: Track): void {
  for (let k = 0; k < trackerCount; k++) {
    trackers[k * TRACKER.count + TRACKER.apartX] = 0;
    trackers[k * TRACKER.count + TRACKER.apartY] = 0;
  }
}
