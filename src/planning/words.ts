import type { Bounds } from '../stage/vector.js';

/**
 * What a place is called: the stage in thirds, x to stage left and y upstage. Beyond the stage the word
 * is that of the nearest third.
 */
export function stageWords({ min, max }: Bounds, x: number, y: number): string {
  const third = (value: number, from: number, to: number) =>
    value < from + (to - from) / 3 ? 0 : value <= to - (to - from) / 3 ? 1 : 2;
  const across = third(x, min.x, max.x);
  const along = third(y, min.y, max.y);
  return WORDS[along * 3 + across] ?? 'centre stage';
}

/** From downstage right, row by row. */
export const WORDS = [
  'downstage right',
  'downstage centre',
  'downstage left',
  'centre right',
  'centre stage',
  'centre left',
  'upstage right',
  'upstage centre',
  'upstage left',
] as const;
