import type { Xyz } from './chromaticity.js';

/** An emitter that has steps. */
export interface Stepped {
  /** Of one step. */
  readonly light: Xyz;
  /** At full. */
  readonly most: number;
  /** What the mix asks, in steps. */
  readonly at: number;
}

/** By how much a light misses what is wanted: 1 is as much as may be. */
export type Miss = (X: number, Y: number, Z: number) => number;

/** As good as none: nothing better is looked for. */
const GOOD = 0.5;
/** So many other mixes of the same light are tried at most, those that are nearest to the one asked. */
const MIXES = 750;
/** So many steps below and above are tried around the mix asked, and around others. */
const REACH = { asked: 3, other: 1 } as const;
/** Of lights in one plane so many are chosen together, of each of them the steps below and above. */
const TOGETHER = 7;
/** Of what three lights could span: less is one plane. */
const FLAT = 1e-6;

interface Search {
  readonly emitters: readonly Stepped[];
  readonly miss: Miss;
  readonly steps: number[];
  best: readonly number[];
  least: number;
}

/**
 * Steps that together make a light best. Three emitters make it in one way only, so the steps around it are tried. More of
 * them have other mixes of the same light: from the mix asked outwards, the others are put at each of their steps, the three
 * make what is left of the light, and the steps around that are tried, until some are good.
 * @param fine the light of emitters that have no steps
 */
export function nearestSteps(emitters: readonly Stepped[], fine: Xyz, miss: Miss): number[] {
  const steps = emitters.map(one => within(one, Math.round(one.at)));
  const search: Search = { emitters, miss, steps, best: steps, least: Number.POSITIVE_INFINITY };
  const bySize = emitters
    .map((_, i) => i)
    .sort((a, b) => sizeOf(emitters, b) - sizeOf(emitters, a));
  const three = threeOf(emitters, bySize);
  const together = three ?? bySize.slice(-TOGETHER);
  const others = bySize.filter(i => !together.includes(i));
  const asked = emitters.map(({ at }) => at);
  const reach = together.length > 3 ? REACH.other : REACH.asked;
  around(search, together, asked, reach, plus(fine, emitters, others, steps));
  if (three === undefined || others.length === 0) return [...search.best];
  const nearest = others.map(i => steps[i] as number);
  // All of them from so far below to so far above: one, every step that it has.
  const widest = Math.floor((MIXES ** (1 / others.length) - 1) / 2);
  for (let wide = 0; wide <= widest && search.least > GOOD; wide++) {
    for (const offsets of shell(others.length, wide)) {
      const isThere = others.every((i, k) => {
        const step = (nearest[k] as number) + (offsets[k] as number);
        steps[i] = step;
        return step >= 0 && step <= (emitters[i] as Stepped).most;
      });
      const mix = isThere ? mixWith(emitters, three, others, steps) : undefined;
      if (mix !== undefined)
        around(search, three, mix, REACH.other, plus(fine, emitters, others, steps));
    }
  }
  return [...search.best];
}

function within({ most }: Stepped, step: number): number {
  return Math.min(most, Math.max(0, step));
}

/** Of one step, next to the others. */
function sizeOf(emitters: readonly Stepped[], i: number): number {
  return (emitters[i] as Stepped).light.Y;
}

function plus(
  fine: Xyz,
  emitters: readonly Stepped[],
  which: readonly number[],
  steps: readonly number[],
): Xyz {
  let { X, Y, Z } = fine;
  for (const i of which) {
    const { light } = emitters[i] as Stepped;
    const step = steps[i] as number;
    X += step * light.X;
    Y += step * light.Y;
    Z += step * light.Z;
  }
  return { X, Y, Z };
}

/** All steps around a mix of those that are chosen together; of the last of them, which has the smallest, as far as it takes. */
function around(
  search: Search,
  together: readonly number[],
  mix: readonly number[],
  reach: number,
  rest: Xyz,
  k = 0,
): void {
  const { emitters, steps, miss } = search;
  const i = together[k] as number;
  const one = emitters[i] as Stepped;
  const { light } = one;
  const at = mix[i] as number;
  if (k < together.length - 1) {
    const last = within(one, Math.floor(at) + reach);
    for (let step = within(one, Math.floor(at) + 1 - reach); step <= last; step++) {
      steps[i] = step;
      const { X, Y, Z } = rest;
      const so = { X: X + step * light.X, Y: Y + step * light.Y, Z: Z + step * light.Z };
      around(search, together, mix, reach, so, k + 1);
    }
    return;
  }
  const missAt = (step: number) =>
    miss(rest.X + step * light.X, rest.Y + step * light.Y, rest.Z + step * light.Z);
  const step = lowest(missAt, within(one, Math.round(at)), one.most);
  const missed = missAt(step);
  if (missed >= search.least) return;
  steps[i] = step;
  search.best = [...steps];
  search.least = missed;
}

/** Along one emitter chromaticity and luminance have one place each that is best, and fall off from it: so does the worse of them. */
function lowest(missAt: (step: number) => number, from: number, most: number): number {
  let step = from;
  let least = missAt(step);
  for (const way of [1, -1]) {
    for (;;) {
      const next = step + way;
      const missed = next < 0 || next > most ? Number.POSITIVE_INFINITY : missAt(next);
      if (missed >= least) break;
      [step, least] = [next, missed];
    }
  }
  return step;
}

/** Those three that span most, the one with the smallest steps last; undefined where all lights are in one plane. */
function threeOf(emitters: readonly Stepped[], bySize: readonly number[]): number[] | undefined {
  let best: number[] | undefined;
  let most = 0;
  bySize.forEach((a, i) => {
    bySize.slice(i + 1).forEach((b, k) => {
      for (const c of bySize.slice(i + k + 2)) {
        const [p, q, r] = [a, b, c].map(one => (emitters[one] as Stepped).light) as [Xyz, Xyz, Xyz];
        const spans = Math.abs(volume(p, q, r));
        if (spans <= most || spans < FLAT * size(p) * size(q) * size(r)) continue;
        most = spans;
        best = [a, b, c];
      }
    });
  });
  return best;
}

/** What the three have to be at, for the light asked, with the others at their steps; undefined where they can't. */
function mixWith(
  emitters: readonly Stepped[],
  three: readonly number[],
  others: readonly number[],
  steps: readonly number[],
): number[] | undefined {
  let [X, Y, Z] = [0, 0, 0];
  for (const i of others) {
    const { light, at } = emitters[i] as Stepped;
    const left = at - (steps[i] as number);
    X += left * light.X;
    Y += left * light.Y;
    Z += left * light.Z;
  }
  const left = { X, Y, Z };
  const [p, q, r] = three.map(i => (emitters[i] as Stepped).light) as [Xyz, Xyz, Xyz];
  // Cramer's rule.
  const all = volume(p, q, r);
  const more = [volume(left, q, r) / all, volume(p, left, r) / all, volume(p, q, left) / all];
  const mix = emitters.map(({ at }) => at);
  const isThere = three.every((i, k) => {
    const { at, most } = emitters[i] as Stepped;
    const level = at + (more[k] as number);
    mix[i] = level;
    return level > -1 && level < most + 1;
  });
  return isThere ? mix : undefined;
}

function volume(a: Xyz, b: Xyz, c: Xyz): number {
  return (
    a.X * (b.Y * c.Z - b.Z * c.Y) + a.Y * (b.Z * c.X - b.X * c.Z) + a.Z * (b.X * c.Y - b.Y * c.X)
  );
}

function size({ X, Y, Z }: Xyz): number {
  return Math.sqrt(X * X + Y * Y + Z * Z);
}

/** All offsets of which the greatest is so wide, below or above. */
function* shell(count: number, wide: number): Generator<readonly number[]> {
  const offsets = new Array<number>(count).fill(-wide);
  for (;;) {
    if (offsets.some(one => Math.abs(one) === wide)) yield offsets;
    let k = 0;
    while (k < count && offsets[k] === wide) offsets[k++] = -wide;
    if (k === count) return;
    offsets[k] = (offsets[k] as number) + 1;
  }
}
