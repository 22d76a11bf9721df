import { distanceOf, scaled, sumOf, type Xyz, xyOf } from './chromaticity.js';

/** Finer than this a step is nothing to see: 12 bits. */
const FINE = 4095;
/** Of so many emitters with coarse steps all ways are tried; of more each goes to its nearest. */
const MOST = 12;
/** What is as bad as what: a chromaticity off by so much in u'v', and a luminance off by such a share. */
const [OFF, SHARE] = [0.003, 0.02];

/**
 * Levels in the steps that there are. Each emitter by itself to its nearest would add up: half a step of green is 2 per
 * cent of a deep blue, and of red as much again. So of the steps below and above, of all of them, those are taken that are
 * nearest together.
 * @param emitters each at full
 * @param levels 0..1
 * @param steps for each emitter from dark to full: 255 of a slot
 */
export function inSteps(
  emitters: readonly Xyz[],
  levels: readonly number[],
  steps: readonly number[],
): number[] {
  const isFine = (i: number) => stepsAt(steps, i) >= FINE;
  const nearest = levels.map((level, i) =>
    isFine(i) ? level : atStep(Math.round(level * stepsAt(steps, i)), steps, i),
  );
  const coarse = levels.flatMap((level, i) => {
    const at = level * stepsAt(steps, i);
    return isFine(i) || Math.abs(at - Math.round(at)) < 1e-6 ? [] : [i];
  });
  const exact = lightOf(emitters, levels);
  if (coarse.length === 0 || coarse.length > MOST || !(exact.Y > 0)) return nearest;
  const wanted = xyOf(exact);
  let best = nearest;
  let least = Number.POSITIVE_INFINITY;
  for (let ways = 0; ways < 2 ** coarse.length; ways++) {
    const tried = [...nearest];
    coarse.forEach((i, bit) => {
      const below = Math.floor((levels[i] as number) * stepsAt(steps, i));
      tried[i] = atStep(below + ((ways >> bit) & 1), steps, i);
    });
    const light = lightOf(emitters, tried);
    if (!(light.Y > 0)) continue;
    const off = distanceOf(xyOf(light), wanted) / OFF;
    const bright = (light.Y / exact.Y - 1) / SHARE;
    const fault = off * off + bright * bright;
    if (fault >= least) continue;
    least = fault;
    best = tried;
  }
  return best;
}

function stepsAt(steps: readonly number[], i: number): number {
  return steps[i] as number;
}

function atStep(step: number, steps: readonly number[], i: number): number {
  return step / stepsAt(steps, i);
}

function lightOf(emitters: readonly Xyz[], levels: readonly number[]): Xyz {
  return sumOf(emitters.map((one, i) => scaled(one, levels[i] as number)));
}
