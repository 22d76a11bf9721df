import { locate } from './mounting.js';
import { noiseShareOf } from './noise.js';
import type { Sighting } from './sighting.js';
import type { Track } from './track.js';

/** A report with quality 0 counts as this much noisier (standard deviation of the white part). */
const WORST_QUALITY_FACTOR = 10;

/** Each tracker's bias is scaled like its noise. */
export function shareNoise(track: Track): void {
  for (let k = 0; k < track.trackerCount; k++) {
    const share = noiseShareOf(track, k) ** 2;
    track.floor.biasShare[k] = share;
    track.height.biasShare[k] = share;
  }
}

/**
 * Fills `scratch.measured`: where a report puts the performer, and how far to rely on it. If a sensor gives its
 * report half the quality, its white noise counts as doubled.
 */
export function measure(track: Track, s: Readonly<Sighting>): void {
  const { options, scratch } = track;
  const worse = 1 / Math.max(1 / WORST_QUALITY_FACTOR, Math.min(1, s.quality));
  const share = noiseShareOf(track, s.tracker);
  const doubtM2 = locate(track, s);
  scratch.measured.floorM2 = (options.horizontal.whiteM * worse * share) ** 2 + doubtM2;
  scratch.measured.heightM2 = (options.vertical.whiteM * worse * share) ** 2;
}
