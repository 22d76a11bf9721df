import { seededRandom } from '../sensors/random.js';

/** Sums of the squared errors of two followers over the same stretch of time, m². */
export interface Block {
  readonly ours: number;
  readonly theirs: number;
}

export interface Interval {
  readonly low: number;
  readonly high: number;
}

const ROUNDS = 1000;
/** Share of the rounds that lie within the interval. */
const SHARE = 0.9;

/**
 * 90 % interval of the ratio of two RMS errors: the percentile bootstrap of paired blocks (Efron and
 * Tibshirani, An Introduction to the Bootstrap, 1993, chapters 13 and 8.6; from memory). Errors a second
 * apart are alike, so resampling single moments would make the interval far too narrow; blocks of some
 * seconds are nearly independent. NaN with fewer than five blocks: that is too little to tell.
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

/** The same for any statistic of the blocks. */
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
