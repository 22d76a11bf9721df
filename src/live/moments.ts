import { confidenceOf } from './reading.js';
import type { LiveSnapshot } from './schema.js';

/** What is drawn as strips goes back so far, seconds. */
export const KEPT_S = 600;
const EVERY_S = 0.95;
/** Snapshots may come a little out of turn; beyond this the clock has been set back, seconds. */
const SET_BACK_S = 5;

/** One second of the evening. */
export interface Moment {
  readonly atS: number;
  readonly positionsPerS: number;
  readonly droppedPerS: number;
  /** Of each performer, by name; null: no engine. A reload may bring others, in another order. */
  readonly confidence: Readonly<{ [performer: string]: number | null }>;
  /** How far the light is predicted ahead, the longest of all who are followed, seconds. */
  readonly delayS: number | null;
}

/** Adds one a second to the last ten minutes; a clock that is set back begins anew. */
export function keepMoment(moments: Moment[], { atS, status, engine }: LiveSnapshot): void {
  const last = moments.at(-1);
  if (last !== undefined && atS < last.atS - SET_BACK_S) moments.length = 0;
  else if (last !== undefined && atS - last.atS < EVERY_S) return;
  const ahead = (engine?.performers ?? []).flatMap(({ aheadS, phase }) =>
    aheadS !== undefined && (phase === 'live' || phase === 'returning') ? [aheadS] : [],
  );
  moments.push({
    atS,
    positionsPerS: status.feed.positionsPerS,
    droppedPerS: status.feed.droppedPerS,
    confidence: confidenceOf(status, engine),
    delayS: ahead.length === 0 ? null : Math.max(...ahead),
  });
  while ((moments[0]?.atS ?? atS) < atS - KEPT_S) moments.shift();
}
