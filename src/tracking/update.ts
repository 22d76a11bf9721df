import { applyMeasurement, assessMeasurement } from './bank-update.js';
import { begin, beginHeight } from './begin.js';
import { considerCandidate, dropCandidate } from './candidate.js';
import { turnHeading } from './mounting.js';
import type { Sighting, Verdict } from './sighting.js';
import { SLOT, type Track } from './track.js';

/** A report that belongs to the track with less than this probability may support another place. */
const ELSEWHERE_PROBABILITY = 0.1;

/**
 * Takes the report into the state as far as it belongs to the track (`scratch.assessment`), keeps it out, or begins
 * anew if it and those before it insist on another place.
 * @param intervalS since the previous state
 */
export function update(track: Track, s: Readonly<Sighting>, intervalS: number): Verdict {
  const { options, floor, scratch } = track;
  const { association } = scratch.assessment;
  const isElsewhere = association < ELSEWHERE_PROBABILITY;
  const sinceS = isElsewhere ? considerCandidate(track, s) : undefined;
  if (sinceS !== undefined) {
    begin(track, s, sinceS);
    return 'reacquired';
  }
  if (association < options.gateProbability) return 'gated';
  applyMeasurement(floor, s.tracker, scratch.measured.place);
  turnHeading(track, intervalS);
  updateHeight(track, s);
  if (!isElsewhere) dropCandidate(track);
  return 'accepted';
}

/** The height of a report whose place is accepted; a height rejected for long enough begins anew. */
function updateHeight(track: Track, s: Readonly<Sighting>): void {
  const { options, numbers, height, scratch } = track;
  const { measured, heightAssessment } = scratch;
  const { height: z, heightM2 } = measured;
  assessMeasurement(height, s.tracker, z, heightM2, measured, heightAssessment);
  if (heightAssessment.association >= options.gateProbability) {
    applyMeasurement(height, s.tracker, z);
    numbers[SLOT.verticalSinceS] = Number.NaN;
    return;
  }
  if (Number.isNaN(numbers[SLOT.verticalSinceS] as number)) numbers[SLOT.verticalSinceS] = s.timeS;
  const insistedS = s.timeS - (numbers[SLOT.verticalSinceS] as number);
  if (insistedS >= options.reacquireS) beginHeight(track, s);
}
