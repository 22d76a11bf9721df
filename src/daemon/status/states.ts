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
