import type { Phase } from '../safety/watchdog.js';
import type { Style } from './line.js';

/** Who is shown where there is no room for all: the lowest first. */
export const URGENCY: Readonly<Record<Phase, number>> = {
  losing: 0,
  safe: 1,
  rearming: 2,
  returning: 3,
  waiting: 4,
  off: 5,
  live: 6,
};

export function styleOf(phase: Phase): Style {
  if (phase === 'live') return 'green';
  if (phase === 'off') return 'dim';
  return phase === 'losing' || phase === 'safe' ? 'red' : 'yellow';
}
