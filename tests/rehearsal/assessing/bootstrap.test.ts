import { describe, expect, test } from 'vitest';
import { type Block, ratioInterval } from '../../../src/rehearsal/assessing/bootstrap.js';
import { seededNormal } from '../../../src/rehearsal/sensors/random.js';

/** Blocks whose true ratio of RMS errors is `ratio`, each of `n` squared normal errors. */
function blocks(count: number, ratio: number, seed: number, n = 40): Block[] {
  const normal = seededNormal(seed);
  const sum = (scale: number) => {
    let squares = 0;
    for (let i = 0; i < n; i++) squares += (scale * normal()) ** 2;
    return squares;
  };
  return Array.from({ length: count }, () => ({ ours: sum(ratio), theirs: sum(1) }));
}

describe('the interval of a ratio', () => {
  test('is the same for the same seed', () => {
    expect(ratioInterval(blocks(20, 0.9, 1))).toEqual(ratioInterval(blocks(20, 0.9, 1)));
  });

  test('is the ratio itself where all blocks say the same', () => {
    const { low, high } = ratioInterval(Array(12).fill({ ours: 0.81, theirs: 1 }));
    expect(low).toBeCloseTo(0.9, 12);
    expect(high).toBeCloseTo(0.9, 12);
  });

  test('is narrower by half over four times as many blocks', () => {
    const width = (count: number) => {
      const { low, high } = ratioInterval(blocks(count, 0.9, 3));
      return high - low;
    };
    expect(width(40) / width(160)).toBeGreaterThan(1.5);
    expect(width(40) / width(160)).toBeLessThan(2.7);
  });

  /** 90 of 100 is asked; percentile intervals of few blocks are known to hold a little less. */
  test('holds the true ratio about as often as it says', () => {
    let held = 0;
    for (let seed = 0; seed < 200; seed++) {
      const { low, high } = ratioInterval(blocks(30, 0.9, 100 + 7 * seed), seed);
      if (low <= 0.9 && 0.9 <= high) held++;
    }
    expect(held / 200).toBeGreaterThan(0.82);
    expect(held / 200).toBeLessThan(0.96);
  });

  /**
   * Against theory: the variance of log(sum a² / sum b²) of n normal errors each is 2/n + 2/n (delta method;
   * a sum of squares has relative variance 2/n), so that 90 % of the ratios lie within exp(1.645 sqrt(4/n) / 2).
   */
  test('is as wide as theory says for independent errors', () => {
    const count = 100;
    const { low, high } = ratioInterval(blocks(count, 1, 11));
    const expected = 2 * 1.645 * Math.sqrt(4 / (40 * count)) * 0.5;
    expect((high - low) / expected).toBeGreaterThan(0.75);
    expect((high - low) / expected).toBeLessThan(1.25);
  });

  test('of fewer than five blocks there is none', () => {
    expect(ratioInterval(blocks(4, 1, 1)).low).toBeNaN();
    expect(ratioInterval(blocks(5, 1, 1)).low).not.toBeNaN();
  });
});
