/**
 * Seeded noise: Mulberry32 (Tommy Ettinger, 2017, public domain), good enough for a demo and the same
 * everywhere.
 * @returns a source of numbers from 0 up to, not including, 1
 */
export function seededRandom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export interface Random {
  uniform(): number;
  normal(): number;
}

/** Uniform and normal numbers from one seed; drawing one kind doesn't advance the other. */
export function seededSource(seed: number): Random {
  return { uniform: seededRandom(seed), normal: seededNormal(seed + 0x5eed) };
}

/** Normally distributed numbers, mean 0 and deviation 1 (Box and Muller 1958). */
export function seededNormal(seed: number): () => number {
  const uniform = seededRandom(seed);
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
}
