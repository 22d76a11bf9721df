import type { FallbackPhase } from '../../safety/fallback.js';
import { isKnown, type Phase } from '../../safety/watchdog.js';
import type { PerformerStatus, Status } from './status.js';

/** What the phases of the watchdog come to for people. */

export function stateOf(phase: Phase): PerformerStatus['state'] {
  if (phase === 'live') return 'live';
  if (phase === 'off') return 'off stage';
  if (phase === 'waiting') return 'not heard';
  return phase === 'returning' || phase === 'rearming' ? 'returning' : 'lost';
}

export function lightOf(
  phase: FallbackPhase,
  performers: readonly PerformerStatus[],
): Status['light'] {
  if (phase !== 'live') return 'safe look';
  const live = performers.filter(one => isKnown(one.phase)).length;
  if (live === performers.length) return 'live';
  return live === 0 ? 'safe look' : 'partly';
}
