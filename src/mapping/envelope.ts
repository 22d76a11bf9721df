import type { EnvelopeOptions } from './options.js';

/**
 * A level that follows its target no faster than the fade times allow.
 * @returns the new level, between `level` and `target`
 */
export function stepEnvelope(
  level: number,
  target: number,
  dtS: number,
  options: EnvelopeOptions,
): number {
  if (target > level) {
    return options.inS > 0 ? Math.min(target, level + dtS / options.inS) : target;
  }
  return options.outS > 0 ? Math.max(target, level - dtS / options.outS) : target;
}
