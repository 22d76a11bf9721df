import type { Sighting } from './sighting.js';
import { SLOT, type Track } from './track.js';

/** Two noisy reports of one place differ by sqrt(2) sigma an axis: 4.3 sigma holds 99 of 100 pairs. */
const REACH_SIGMAS = 4.3;
/** The fewest such reports: two can be one burst. */
const FEWEST_REPORTS = 3;

/**
 * `scratch.measured.place` is where the report puts the performer. Gated reports that agree with one another build up
 * a candidate place; a report that could not have been reached from the last begins a new candidate. A candidate that
 * has lasted for `reacquireS`, with nothing accepted meanwhile, is believed. So is one that has lasted as long as the
 * track itself had been supported: a track that began on an outlier has no better support than its rival.
 * @returns since when reports have supported the new place, monotonic seconds; undefined until it is believed
 */
export function considerCandidate(track: Track, s: Readonly<Sighting>): number | undefined {
  const { numbers, options, scratch } = track;
  const x = scratch.measured.place[0] as number;
  const y = scratch.measured.place[1] as number;
  const sinceS = numbers[SLOT.candidateSinceS] as number;
  const intervalS = s.timeS - (numbers[SLOT.candidateS] as number);
  const { whiteM, biasM } = options.horizontal;
  const reachM =
    REACH_SIGMAS * Math.hypot(whiteM, biasM) +
    options.maxSpeedMps * Math.min(intervalS, options.reacquireS);
  const distanceM = Math.hypot(
    x - (numbers[SLOT.candidateX] as number),
    y - (numbers[SLOT.candidateY] as number),
  );
  const agrees = !Number.isNaN(sinceS) && distanceM <= reachM;
  const count = agrees ? (numbers[SLOT.candidateCount] as number) + 1 : 1;
  if (!agrees) numbers[SLOT.candidateSinceS] = s.timeS;
  numbers[SLOT.candidateCount] = count;
  numbers[SLOT.candidateS] = s.timeS;
  numbers[SLOT.candidateX] = x;
  numbers[SLOT.candidateY] = y;
  if (!agrees || count < FEWEST_REPORTS) return undefined;
  const supportS = (numbers[SLOT.acceptedS] as number) - (numbers[SLOT.beganS] as number);
  return s.timeS - sinceS < Math.min(options.reacquireS, supportS) ? undefined : sinceS;
}

/**
 * For how long agreeing reports have insisted on another place, or all reports on another height, seconds; 0 if none
 * or only one does.
 */
export function insistedForS({ numbers }: Readonly<Track>): number {
  const placeS = (numbers[SLOT.candidateS] as number) - (numbers[SLOT.candidateSinceS] as number);
  const heightS = (numbers[SLOT.timeS] as number) - (numbers[SLOT.verticalSinceS] as number);
  return Math.max(0, Number.isNaN(placeS) ? 0 : placeS, Number.isNaN(heightS) ? 0 : heightS);
}

export function dropCandidate(track: Track): void {
  track.numbers[SLOT.candidateSinceS] = Number.NaN;
}
