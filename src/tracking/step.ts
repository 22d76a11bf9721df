import { associate } from './associate.js';
import { predictBank } from './bank-predict.js';
import { clearAssessment } from './bank-update.js';
import { begin } from './begin.js';
import { holdAim, releaseAim } from './blend.js';
import { isFrozen } from './freeze.js';
import { learn, learnAccepted } from './learn.js';
import { measure, shareNoise } from './measure.js';
import type { Sighting, Verdict } from './sighting.js';
import { hasStarted, SLOT, TRACKER, type Track } from './track.js';
import { update } from './update.js';

/**
 * Takes one report, in order of time, into the track: is its feed alive, what does it say, predict, gate, update,
 * learn. `observe` puts late ones in their place first.
 */
export function step(track: Track, s: Readonly<Sighting>): Verdict {
  clearAssessment(track.scratch.assessment);
  // A hung feed says nothing about where the performer is: its reports don't count.
  if (isFrozen(track, s)) {
    track.trackers[s.tracker * TRACKER.count + TRACKER.lastS] = s.timeS;
    return 'frozen';
  }
  const verdict = follow(track, s);
  learn(track, s);
  return verdict;
}

function follow(track: Track, s: Readonly<Sighting>): Verdict {
  const { numbers, options, floor, height } = track;
  shareNoise(track);
  if (!hasStarted(track)) {
    begin(track, s);
    return 'started';
  }
  const stateS = numbers[SLOT.timeS] as number;
  const intervalS = s.timeS - stateS;
  if (intervalS > options.forgetS || numbers[SLOT.beginNext] === 1) {
    begin(track, s);
    return 'reacquired';
  }
  measure(track, s);
  holdAim(track, stateS, s.arrivalS);
  predictBank(floor, intervalS, options.regimeMemoryS, options.horizontal);
  predictBank(height, intervalS, options.regimeMemoryS, options.vertical);
  numbers[SLOT.timeS] = s.timeS;
  associate(track, s);
  const verdict = update(track, s, intervalS);
  if (verdict !== 'reacquired') releaseAim(track, s.timeS, s.arrivalS);
  if (verdict === 'accepted') learnAccepted(track, s);
  return verdict;
}
