import { resetBank } from './bank.js';
import { forgetCorrections } from './blend.js';
import { dropCandidate } from './candidate.js';
import { forgetApart } from './conflict.js';
import { measure } from './measure.js';
import { forgetHeading } from './mounting.js';
import type { Sighting } from './sighting.js';
import { hasStarted, SLOT, TRACKER, type Track } from './track.js';

/**
 * The track begins at the report, at rest.
 * @param sinceS since when reports have supported this place, monotonic seconds
 */
export function begin(track: Track, s: Readonly<Sighting>, sinceS = s.timeS): void {
  const { options, numbers, floor, scratch } = track;
  forgetHeading(track);
  measure(track, s);
  resetBank(floor, s.tracker, scratch.measured.place, options.horizontal, scratch.measured.floorM2);
  beginHeight(track, s);
  if (hasStarted(track)) numbers[SLOT.restarts] = (numbers[SLOT.restarts] as number) + 1;
  numbers[SLOT.started] = 1;
  numbers[SLOT.beganS] = sinceS;
  numbers[SLOT.timeS] = s.timeS;
  numbers[SLOT.acceptedS] = s.timeS;
  numbers[SLOT.arrivedS] = s.arrivalS;
  numbers[SLOT.intervalS] = 0;
  numbers[SLOT.beginNext] = 0;
  forgetCorrections(track);
  forgetApart(track);
  track.trackers[s.tracker * TRACKER.count + TRACKER.outlier] = 0;
  dropCandidate(track);
}

/** Only the height begins anew at the report. */
export function beginHeight(track: Track, s: Readonly<Sighting>): void {
  const { options, numbers, height, scratch } = track;
  resetBank(
    height,
    s.tracker,
    scratch.measured.height,
    options.vertical,
    scratch.measured.heightM2,
  );
  numbers[SLOT.verticalSinceS] = Number.NaN;
}
