import { clearAssessment, copyAssessment } from './bank-update.js';
import {
  dropHistory,
  insertHistory,
  pushHistory,
  readSighting,
  restoreBefore,
  saveBefore,
  timeAt,
  trackerAt,
} from './history.js';
import type { Sighting, Verdict } from './sighting.js';
import { step } from './step.js';
import { hasStarted, SLOT, type Track } from './track.js';

/** Farther away than any stage, yet nothing computed from it overflows. */
const FARTHEST_M = 1e6;
/** Thirty years of a monotonic clock. */
const LATEST_S = 1e9;
/**
 * Closer together than this, two reports of a tracker are of one moment: no tracker reports 500 times a second. They
 * have waited somewhere together, and the newer one is better; or one is a copy of the other.
 */
const SAME_S = 2e-3;

/**
 * Takes one report into the track, or says why not; reports may come in any order. A late one is placed at its own
 * time: the track goes back to just before it and the later ones are run again (at most `historyCount`). The track
 * stays finite for any report.
 */
export function observe(track: Track, sighting: Readonly<Sighting>): Verdict {
  clearAssessment(track.last);
  const verdict = isUsable(track, sighting) ? placeInTime(track, sighting) : 'invalid';
  track.last.verdict = verdict;
  return verdict;
}

function placeInTime(track: Track, s: Readonly<Sighting>): Verdict {
  const { history, numbers } = track;
  let index = history.length;
  for (let i = history.length - 1; i >= 0 && timeAt(history, i) > s.timeS - SAME_S; i--) {
    if (timeAt(history, i) > s.timeS) index = i;
    if (timeAt(history, i) < s.timeS + SAME_S && trackerAt(history, i) === s.tracker) {
      return placeBeside(track, s, i);
    }
  }
  if (index < history.length) return placeLate(track, s, index);
  // After a change of trackers there is no history: a report older than the track can't be placed.
  if (
    history.length === 0 &&
    hasStarted(track) &&
    numbers[SLOT.beginNext] === 0 &&
    s.timeS < (numbers[SLOT.timeS] as number)
  ) {
    return 'out-of-order';
  }
  pushHistory(history, s);
  saveBefore(history, history.length - 1, track.memory);
  const verdict = step(track, s);
  copyAssessment(track.scratch.assessment, track.last);
  return verdict;
}

/** A report of the same tracker and moment as one already there: a copy, or a replacement. */
function placeBeside(track: Track, s: Readonly<Sighting>, index: number): Verdict {
  const { history, scratch } = track;
  readSighting(history, index, scratch.again);
  const { x, y, z, timeS } = scratch.again;
  const restarts = track.numbers[SLOT.restarts] as number;
  if (s.x === x && s.y === y && s.z === z) return 'duplicate';
  if (s.timeS < timeS) return 'out-of-order';
  restoreBefore(history, index, track.memory);
  dropHistory(history, index);
  if (index === history.length) return placeInTime(track, s);
  let at = index;
  while (at < history.length && timeAt(history, at) <= s.timeS) at++;
  return runAgain(track, s, index, at, restarts);
}

function placeLate(track: Track, s: Readonly<Sighting>, index: number): Verdict {
  const { history, options } = track;
  const newestS = timeAt(history, history.length - 1);
  if (index === 0 || newestS - s.timeS > options.historyS) return 'out-of-order';
  const restarts = track.numbers[SLOT.restarts] as number;
  restoreBefore(history, index, track.memory);
  return runAgain(track, s, index, index, restarts);
}

/** Goes back to before the entry `from`, puts the report at `index`, and runs everything again from there. */
function runAgain(
  track: Track,
  s: Readonly<Sighting>,
  from: number,
  index: number,
  restarts: number,
): Verdict {
  const { history, numbers, scratch } = track;
  const full = history.length === history.capacity;
  const place = insertHistory(history, index, s);
  let verdict: Verdict = 'gated';
  for (let at = full ? from - 1 : from; at < history.length; at++) {
    readSighting(history, at, scratch.again);
    saveBefore(history, at, track.memory);
    const now = step(track, scratch.again);
    if (at !== place) continue;
    verdict = now;
    copyAssessment(scratch.assessment, track.last);
  }
  // With this report in place the track may begin anew where it did not, or the reverse: a jump either way.
  if (numbers[SLOT.restarts] !== restarts) return 'reacquired';
  return verdict === 'gated' || verdict === 'frozen' ? verdict : 'replayed';
}

function isUsable(track: Track, s: Readonly<Sighting>): boolean {
  return (
    Number.isInteger(s.tracker) &&
    s.tracker >= 0 &&
    s.tracker < track.trackerCount &&
    Math.abs(s.timeS) <= LATEST_S &&
    Math.abs(s.arrivalS) <= LATEST_S &&
    Math.abs(s.x) <= FARTHEST_M &&
    Math.abs(s.y) <= FARTHEST_M &&
    Math.abs(s.z) <= FARTHEST_M &&
    !Number.isNaN(s.quality)
  );
}
