import { scaled, sumOf, uvOf, type Xyz, xyOf } from './chromaticity.js';
import { type Miss, nearestSteps } from './nearest-steps.js';

/** Finer than this a step is nothing to see: 12 bits. */
const FINE = 4095;
/** What is as bad as what: a chromaticity off by so much in u'v', and a luminance off by such a share. */
const [OFF, SHARE] = [0.003, 0.02];

/**
 * Levels in the steps that there are. Each emitter by itself to its nearest would add up: half a step of green is 2 per
 * cent of a deep blue, and of red as much again. So steps are chosen together: those of which the worse of chromaticity
 * and luminance is best.
 * @param emitters each at full
 * @param levels 0..1
 * @param steps for each emitter from dark to full: 255 of a slot
 */
export function inSteps(
  emitters: readonly Xyz[],
  levels: readonly number[],
  steps: readonly number[],
): number[] {
  const lights = emitters.map((one, i) => scaled(one, levels[i] as number));
  const wanted = sumOf(lights);
  const isCoarse = emitters.map((one, i) => (steps[i] as number) < FINE && one.Y > 0);
  if (!(wanted.Y > 0) || !isCoarse.includes(true)) return [...levels];
  const coarse = emitters.flatMap((light, i) => {
    const count = steps[i] as number;
    const step = {
      light: scaled(light, 1 / count),
      most: count,
      at: (levels[i] as number) * count,
    };
    return isCoarse[i] ? [step] : [];
  });
  const fine = sumOf(lights.filter((_, i) => !isCoarse[i]));
  const found = nearestSteps(coarse, fine, missOf(wanted));
  let next = 0;
  return levels.map((level, i) =>
    isCoarse[i] ? (found[next++] as number) / (steps[i] as number) : level,
  );
}

/** By how much a light misses another: 1 where it is off by as much as may be. */
function missOf(wanted: Xyz): Miss {
  const { u, v } = uvOf(xyOf(wanted));
  return (X, Y, Z) => {
    const sum = X + 15 * Y + 3 * Z;
    if (!(sum > 0)) return Number.POSITIVE_INFINITY;
    const [du, dv] = [(4 * X) / sum - u, (9 * Y) / sum - v];
    return Math.max(Math.sqrt(du * du + dv * dv) / OFF, Math.abs(Y / wanted.Y - 1) / SHARE);
  };
}
