/** Linear ramps between 0 and 1; a time of 0 s means at once. */

/** `level` after `dtS` of a rise that takes `fullS` from 0 to 1. */
export function rise(level: number, dtS: number, fullS: number): number {
  return fullS > 0 ? Math.min(1, level + dtS / fullS) : 1;
}

/** `level` after `dtS` of a fall that takes `fullS` from 1 to 0. */
export function fall(level: number, dtS: number, fullS: number): number {
  return fullS > 0 ? Math.max(0, level - dtS / fullS) : 0;
}
