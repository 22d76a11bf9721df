import type { Reception } from './receive.js';
import type { Tracker } from './roster.js';
import type { Tracks } from './tracks.js';

/** Longer ago, it may have been carried anywhere since: a few seconds' walk crosses a stage. */
export const KNOWN_WITHIN_S = 5;

/** Where a newly assigned tracker is: somebody may have picked up the wrong one and wants to see it. */
export interface Whereabouts {
  /** On the floor, from where the performer was last tracked, metres; missing where one of both is unknown. */
  readonly distanceM?: number;
  /** No report from it lately. */
  readonly unheard?: true;
}

/** @param performer index of who gets it */
export function whereaboutsOf(
  { heardS, places }: Pick<Reception, 'heardS' | 'places'>,
  tracks: Tracks,
  { index }: Tracker,
  performer: number,
  nowS: number,
): Whereabouts {
  if (!(nowS - (heardS[index] as number) <= KNOWN_WITHIN_S)) return { unheard: true };
  const known = tracks.performers[performer];
  if (known?.seen !== true) return {};
  const { x, y } = known.estimate;
  const distanceM = Math.hypot(
    (places[2 * index] as number) - x,
    (places[2 * index + 1] as number) - y,
  );
  return Number.isFinite(distanceM) ? { distanceM } : {};
}
