import type { Bank } from './bank.js';
import { forgetHistory } from './history.js';
import type { TrackerFit } from './options.js';
import { createTrack, hasStarted, SLOT, TRACKER, type Track } from './track.js';

/** A tracker with more than half outliers says nothing about the track. */
const HALF = 0.5;

/**
 * The same track with other trackers: keeps what is known of the performer, and of the trackers in both. Late reports
 * from before the change can't be placed any more.
 * @param fits how each tracker is worn
 * @param from for each tracker its place in the old track; undefined: it is new
 */
export function withTrackers(
  track: Readonly<Track>,
  fits: readonly TrackerFit[],
  from: readonly (number | undefined)[],
): Track {
  const next = createTrack(track.options, fits.length, fits, track.scratchPool);
  next.numbers.set(track.numbers);
  from.forEach((old, k) => {
    if (old === undefined) return;
    const at = old * TRACKER.count;
    next.trackers.set(track.trackers.subarray(at, at + TRACKER.count), k * TRACKER.count);
  });
  if (!hasStarted(track)) return next;
  const shares = fits.map(({ noiseShare }) => noiseShare ** 2);
  next.floor.biasShare.set(shares);
  next.height.biasShare.set(shares);
  const { horizontal, vertical } = track.options;
  copyBank(track.floor, next.floor, from, horizontal.biasM);
  copyBank(track.height, next.height, from, vertical.biasM);
  forgetHistory(next.history);
  return next;
}

/** The next report is not compared with the track but begins it anew, as a jump. */
export function beginAfresh(track: Track): void {
  if (hasStarted(track)) track.numbers[SLOT.beginNext] = 1;
}

/** Whether a tracker was heard in the last `withinS` seconds and mostly agreed with the track. */
export function speaksFor(
  track: Readonly<Track>,
  tracker: number,
  nowS: number,
  withinS: number,
): boolean {
  const at = tracker * TRACKER.count;
  const silentForS = nowS - (track.trackers[at + TRACKER.lastS] as number);
  return silentForS < withinS && (track.trackers[at + TRACKER.outlierShare] as number) < HALF;
}

/** Keeps regimes, place and velocity, and the biases of trackers that stay; nothing is known of new ones. */
function copyBank(
  old: Readonly<Bank>,
  next: Bank,
  from: readonly (number | undefined)[],
  biasM: number,
): void {
  const { modes, axes } = next;
  const columns = [0, 1, ...from.map(place => (place === undefined ? undefined : 2 + place))];
  next.weight.set(old.weight);
  for (let m = 0; m < modes; m++) {
    columns.forEach((column, c) => {
      if (column === undefined) {
        const place = (m * next.states + c) * next.states + c;
        next.cov[place] = biasM * biasM * (next.biasShare[c - 2] as number);
        return;
      }
      for (let d = 0; d < axes; d++) {
        next.mean[(m * axes + d) * next.states + c] = old.mean[
          (m * axes + d) * old.states + column
        ] as number;
      }
      columns.forEach((row, r) => {
        if (row === undefined) return;
        next.cov[(m * next.states + r) * next.states + c] = old.cov[
          (m * old.states + row) * old.states + column
        ] as number;
      });
    });
  }
}
