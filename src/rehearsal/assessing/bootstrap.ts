import { seededRandom } from '../sensors/random.js';

/** Squared errors of two followers over the same stretch of time, summed. */
export interface Block {
  readonly ours: number;
  readonly theirs: number;
}

export interface Interval {
  readonly low: number;
  readonly high: number;
}

const ROUNDS = 1000;
/** Of the rounds, within the interval: 90 of 100. */
const SHARE = 0.9;

/**
 * How far the ratio of two RMS errors can be trusted: the interval that holds it in 90 of 100 cases if the
 * blocks of some seconds were drawn anew from those that were seen (percentile bootstrap of paired blocks,
 * Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapters 13 and 8.6; from memory). Errors
 * a second apart are alike, so that single moments drawn anew would promise far too much; seconds are not.
 * NaN where there are fewer than five blocks: that is too little to tell.
 */
export function ratioInterval(blocks: readonly Block[], seed = 1): Interval {
  return drawnInterval(blocks, ratioOf, seed);
}

function ratioOf(blocks: readonly Block[]): number {
  let [ours, theirs] = [0, 0];
  for (const block of blocks) {
    ours += block.ours;
    theirs += block.theirs;
  }
  return Math.sqrt(ours / theirs);
}

/** The same of anything that is computed from blocks. */
export function drawnInterval<T>(
  blocks: readonly T[],
  statistic: (drawn: readonly T[]) => number,
  seed = 1,
): Interval {
  if (blocks.length < 5) return { low: Number.NaN, high: Number.NaN };
  const random = seededRandom(seed);
  const values = new Float64Array(ROUNDS);
  const drawn = [...blocks];
  for (let round = 0; round < ROUNDS; round++) {
    for (let i = 0; i < blocks.length; i++) {
      drawn[i] = blocks[Math.floor(random() * blocks.length)] as T;
    }
    values[round] = statistic(drawn);
  }
  values.sort();
  const at = (share: number) => values[Math.round(share * (ROUNDS - 1))] as number;
  return { low: at((1 - SHARE) / 2), high: at((1 + SHARE) / 2) };
}
