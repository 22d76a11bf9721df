import type { Phase } from '../safety/watchdog.js';
import type { Style } from './line.js';

/** Who is shown where there is no room for all: the lowest first. */
export const URGENCY: Readonly<Record<Phase, number>> = {
  losing: 0,
  safe: 1,
  rearming: 2,
  returning: 3,
  waiting: 4,
  live: 5,
};

export function styleOf(phase: Phase): Style {
  if (phase === 'live') return 'green';
  return phase === 'losing' || phase === 'safe' ? 'red' : 'yellow';
}
