import { velocityOf } from './bank.js';
import type { TrackerFit } from './options.js';
import type { Sighting } from './sighting.js';
import { SLOT, TRACKER, type Track } from './track.js';

/**
 * A tracker is worn somewhere on the body: its report gives the performer's place once its mounting offset, turned by
 * the heading, is subtracted. Up is exact. The heading is not measured: people mostly face where they go, and when
 * they stand they may turn. So it is an uncertain direction, the mean h = E[(cos, sin)] with 0 <= |h| <= 1: drawn to
 * the direction of movement while there is movement, and decaying while there is none. For an offset o across the
 * floor, turned by an unknown angle of that mean,
 *
 *   E[R o] = forward h + left h'        variance along one axis = |o|^2 (1 - |h|^2) / 2
 *
 * (h' is h turned a quarter to the left), so an unknown heading subtracts nothing and adds the whole uncertainty
 * instead. Source: directional statistics, mean resultant length (Mardia and Jupp,
 * Directional Statistics, 2000, chapter 2; from memory).
 */

/** A walker has turned into a new direction after about this long, s. Common practice. */
const TURN_S = 0.15;
/** Standing, a heading is worth little after this long, s. Common practice. */
const FORGET_S = 4;
/** Below this speed the direction of an estimated velocity is mostly noise, m/s. */
const SLOW_MPS = 0.4;
/** A tracker silent for this long can't be counted on, s. */
const HEARD_WITHIN_S = 1;

/** Draws the heading towards the velocity of the mixture over the interval since the last report. */
export function turnHeading({ numbers, floor, hasFloorOffset }: Track, intervalS: number): void {
  if (!hasFloorOffset) return;
  const vx = velocityOf(floor, 0);
  const vy = velocityOf(floor, 1);
  const squared = vx * vx + vy * vy;
  const speed = Math.sqrt(squared);
  const drawn = squared / (squared + SLOW_MPS * SLOW_MPS) / TURN_S;
  const rate = drawn + 1 / FORGET_S;
  const keep = Math.exp(-rate * Math.max(0, intervalS));
  const fresh = speed > 0 ? ((1 - keep) * drawn) / rate / speed : 0;
  numbers[SLOT.headingX] = keep * (numbers[SLOT.headingX] as number) + fresh * vx;
  numbers[SLOT.headingY] = keep * (numbers[SLOT.headingY] as number) + fresh * vy;
}

export function forgetHeading({ numbers }: Track): void {
  numbers[SLOT.headingX] = 0;
  numbers[SLOT.headingY] = 0;
}

/**
 * Fills `scratch.measured` with where a report puts the performer.
 * @returns what the uncertain heading adds to it, as a variance along one axis, m^2
 */
export function locate(track: Track, s: Readonly<Sighting>): number {
  const { numbers, scratch, fits } = track;
  const { forwardM, leftM, upM } = fits[s.tracker] as TrackerFit;
  const { place, height } = scratch.measured;
  const hx = numbers[SLOT.headingX] as number;
  const hy = numbers[SLOT.headingY] as number;
  place[0] = s.x - (forwardM * hx - leftM * hy);
  place[1] = s.y - (forwardM * hy + leftM * hx);
  height[0] = s.z - upM;
  return track.hasFloorOffset ? headingDoubt(track, s) : 0;
}

/**
 * What the uncertain heading adds to a tracker's report, as a variance along one axis, m^2. A slow error that all
 * reports share can't be filtered like noise: the least of it among the trackers heard goes into the region
 * (`SLOT.mountingM2`); what a tracker has beyond that makes it count for less than the others.
 */
function headingDoubt(track: Track, s: Readonly<Sighting>): number {
  const { numbers, trackers, fits } = track;
  const own = aside(fits[s.tracker] as TrackerFit);
  let least = own;
  for (let k = 0; k < fits.length; k++) {
    const lastS = trackers[k * TRACKER.count + TRACKER.lastS] as number;
    if (s.timeS - lastS < HEARD_WITHIN_S) least = Math.min(least, aside(fits[k] as TrackerFit));
  }
  const hx = numbers[SLOT.headingX] as number;
  const hy = numbers[SLOT.headingY] as number;
  const doubt = 0.5 * Math.max(0, 1 - hx * hx - hy * hy);
  numbers[SLOT.mountingM2] = doubt * least;
  return doubt * (own - least);
}

function aside({ forwardM, leftM }: TrackerFit): number {
  return forwardM * forwardM + leftM * leftM;
}
