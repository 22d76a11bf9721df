import type { Sighting } from '../../src/tracking/sighting.js';

export function sighting(
  timeS: number,
  [x, y, z]: readonly [number, number, number],
  tracker = 0,
): Sighting {
  return { tracker, timeS, arrivalS: timeS, x, y, z, quality: 1 };
}

/** Standard normal numbers from a seed: Mulberry32 and the Box-Muller transform. */
export function gaussian(seed: number): () => number {
  let state = seed >>> 0;
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    // In (0, 1): the logarithm below must not see 0.
    return (((t ^ (t >>> 14)) >>> 0) + 0.5) / 2 ** 32;
  };
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}
