import { otherHasAllLight, type PairStatus } from '../../live/pair-words.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import { isKnown, type Phase, wantsLive } from '../../safety/watchdog.js';
import type { PerformerStatus, Status } from '../asking/status.js';

/** What the phases of the watchdog come to for people. */

export function stateOf(phase: Phase): PerformerStatus['state'] {
  if (phase === 'live') return 'live';
  if (phase === 'off') return 'off stage';
  if (phase === 'waiting') return 'not heard';
  return phase === 'returning' || phase === 'rearming' ? 'returning' : 'lost';
}

/**
 * @param isWhole the loss of everybody takes all fixtures to the safe look
 * @param isHighlighted a fixture is shown over all that
 */
export function lightOf(
  phase: FallbackPhase,
  performers: readonly PerformerStatus[],
  isWhole: boolean,
  isHighlighted: boolean,
): Status['light'] {
  const isTold = phase === 'live' || phase === 'returning';
  if (isTold && (!isWhole || isHighlighted) && !performers.some(one => wantsLive(one.phase)))
    return 'partly';
  if (phase !== 'live') return 'safe look';
  const live = performers.filter(one => isKnown(one.phase)).length;
  if (live === performers.length) return 'live';
  return live === 0 ? 'safe look' : 'partly';
}

/** Whose light the stage shows; undefined: on some network this machine's. */
export function shownInstead(
  outputs: Status['outputs'],
  pair: PairStatus | undefined,
): 'not sent' | 'other machine' | undefined {
  const isLeft = pair !== undefined && otherHasAllLight(pair);
  const sends = outputs.filter(one => one.trouble === undefined && one.heldBack !== true);
  if (sends.length > 0) {
    // Art-Net has no priorities: what is sent is shown.
    return isLeft && sends.every(({ protocol }) => protocol === 'sacn')
      ? 'other machine'
      : undefined;
  }
  if (outputs.length === 0) return undefined;
  return isLeft && outputs.some(one => one.trouble === undefined) ? 'other machine' : 'not sent';
}
