import { learnNoise } from './noise.js';
import type { Sighting } from './sighting.js';
import { SLOT, TRACKER, type Track } from './track.js';

/** Weight of a new interval in the running average: about the last ten reports. */
const AVERAGING = 0.1;
/** A pause longer than this is a silence, and says nothing about the usual interval. */
const LONGEST_USUAL_INTERVAL_S = 1;

/** What an accepted report says about the feed. */
export function learnAccepted({ numbers }: Track, s: Readonly<Sighting>): void {
  const sinceS = s.timeS - (numbers[SLOT.acceptedS] as number);
  const acceptedAfterS = Math.min(sinceS, LONGEST_USUAL_INTERVAL_S);
  const usualS = numbers[SLOT.intervalS] as number;
  numbers[SLOT.intervalS] = usualS + (usualS === 0 ? 1 : AVERAGING) * (acceptedAfterS - usualS);
  numbers[SLOT.acceptedS] = s.timeS;
  numbers[SLOT.arrivedS] = Math.max(numbers[SLOT.arrivedS] as number, s.arrivalS);
}

/** Keeps the tracker's last report, and learns how far its reports scatter. */
export function learn(track: Track, s: Readonly<Sighting>): void {
  const t = track.trackers;
  const at = s.tracker * TRACKER.count;
  learnNoise(track, at, s);
  t[at + TRACKER.lastS] = s.timeS;
  t[at + TRACKER.lastX] = s.x;
  t[at + TRACKER.lastY] = s.y;
  t[at + TRACKER.lastZ] = s.z;
  t[at + TRACKER.quality] = Math.min(1, Math.max(0, s.quality));
}
