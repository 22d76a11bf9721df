import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  distanceOf,
  scaled,
  sumOf,
  uvOf,
  type Xy,
  type Xyz,
  xyOf,
  xyzOf,
} from '../../src/colour/chromaticity.js';
import { gamutOf, nearestIn } from '../../src/colour/gamut.js';
import { mixOf } from '../../src/colour/mix.js';
import { inSteps } from '../../src/colour/stepped.js';
import { demand } from '../demand.js';
import { LAMP_NAMES, LAMPS, lampOf } from './lamps.js';

const SEED = 20261130;

const chromaticity = fc
  .tuple(
    fc.double({ min: 0.15, max: 0.62, noNaN: true }),
    fc.double({ min: 0.06, max: 0.6, noNaN: true }),
  )
  .map(([x, y]): Xy => ({ x, y: Math.min(y, 1 - x) }));

const lampName = fc.constantFrom(...LAMP_NAMES);

function lightOf(emitters: readonly Xyz[], levels: readonly number[]): Xyz {
  return sumOf(emitters.map((one, i) => scaled(one, levels[i] as number)));
}

describe('out of gamut', () => {
  const rgb = lampOf('red', 'green', 'blue');

  test("the nearest in u'v', and how far that is", () => {
    const gamut = gamutOf(rgb.map(xyOf));
    fc.assert(
      fc.property(chromaticity, wanted => {
        const { xy, off } = nearestIn(gamut, wanted);
        expect(distanceOf(xy, wanted)).toBeCloseTo(off, 9);
        // No mixture of the three is nearer.
        for (let i = 0; i <= 12; i++) {
          for (let k = 0; k <= 12 - i; k++) {
            const levels = [i / 12, k / 12 / 2, (12 - i - k) / 12 / 2];
            if (levels.every(level => level === 0)) continue;
            expect(distanceOf(xyOf(lightOf(rgb, levels)), wanted)).toBeGreaterThan(off - 1e-9);
          }
        }
      }),
      { seed: SEED, numRuns: 60 },
    );
  });

  test('it is made of the two at whose side it lies', () => {
    const { levels, off } = mixOf(rgb, { x: 0.1, y: 0.3 });
    expect(levels[0]).toBeCloseTo(0, 6);
    expect(Math.min(levels[1] as number, levels[2] as number)).toBeGreaterThan(0);
    expect(off).toBeGreaterThan(0.01);
  });
});

describe('few emitters', () => {
  test('one gives its own colour, as much as is asked', () => {
    const [warm] = lampOf('warm') as [Xyz];
    expect(mixOf([warm], { x: 0.2, y: 0.2 }).levels[0]).toBeCloseTo(1, 9);
    expect(mixOf([warm], { x: 0.2, y: 0.2 }, 20).levels[0]).toBeCloseTo(0.25, 9);
  });

  test('two of one kind share what is asked', () => {
    const [warm] = lampOf('warm') as [Xyz];
    const { levels, luminance } = mixOf([warm, scaled(warm, 0.5)], xyOf(warm), 60);
    expect(luminance).toBe(60);
    expect((levels[0] as number) * 80 + (levels[1] as number) * 40).toBeCloseTo(60, 6);
    expect(mixOf([warm, scaled(warm, 0.5)], xyOf(warm)).luminance).toBeCloseTo(120, 6);
  });

  test('a warm and a cold white go along the line between them', () => {
    const whites = lampOf('warm', 'cold');
    const half = xyOf(lightOf(whites, [0.5, 0.5]));
    const { levels, luminance, off } = mixOf(whites, half);
    expect(off).toBeLessThan(1e-9);
    expect(levels[0]).toBeCloseTo(1, 6);
    expect(levels[1]).toBeCloseTo(1, 6);
    expect(luminance).toBeCloseTo(170, 4);
    // Three on a line.
    const three = [...whites, lightOf(whites, [0.3, 0.3])];
    const mixed = mixOf(three, half, 100);
    expect(lightOf(three, mixed.levels).Y).toBeCloseTo(100, 4);
    expect(distanceOf(xyOf(lightOf(three, mixed.levels)), half)).toBeLessThan(1e-5);
    expect(mixOf(three, half).luminance).toBeCloseTo(170 * 1.3, 3);
  });

  test('none, or dark ones, give nothing', () => {
    expect(mixOf([], { x: 0.3, y: 0.3 })).toEqual({ levels: [], luminance: 0, off: 0 });
    expect(mixOf([{ X: 0, Y: 0, Z: 0 }], { x: 0.3, y: 0.3 }).levels).toEqual([0]);
  });
});

test('levels change continuously: no emitter jumps along a line of colours, gamut left or not', () => {
  fc.assert(
    fc.property(
      lampName,
      chromaticity,
      chromaticity,
      fc.option(fc.double({ min: 0.5, max: 60, noNaN: true })),
      (name, a, b, asked) => {
        const emitters = lampOf(...LAMPS[name]);
        const largestOf = (steps: number) => {
          let largest = 0;
          let before: readonly number[] | undefined;
          for (let i = 0; i <= steps; i++) {
            const t = i / steps;
            const wanted = { x: a.x + t * (b.x - a.x), y: a.y + t * (b.y - a.y) };
            const { levels } = mixOf(emitters, wanted, asked ?? undefined);
            levels.forEach((level, e) => {
              if (before !== undefined)
                largest = Math.max(largest, Math.abs(level - (before[e] as number)));
            });
            before = levels;
          }
          return largest;
        };
        // A jump would stay as high as it is, however small the steps.
        const [coarse, fine] = [largestOf(50), largestOf(400)];
        expect(fine).toBeLessThan(Math.max(0.02, coarse * 0.4));
      },
    ),
    { seed: SEED, numRuns: 60 },
  );
});

test('as many emitters take part as can', () => {
  const seven = lampOf(...LAMPS.seven);
  const { levels } = mixOf(seven, { x: 0.35, y: 0.36 }, 40);
  expect(levels.filter(level => level > 0.01).length).toBeGreaterThanOrEqual(5);
});

/** In whole steps of slots of `most`, as they go out. */
function inSlots(
  emitters: readonly Xyz[],
  wanted: Xy,
  luminance: number,
  most: number,
): { off: number; brighter: number } {
  const { levels } = mixOf(emitters, wanted, luminance);
  const steps = emitters.map(() => most);
  const stepped = inSteps(emitters, levels, steps).map(level => Math.round(level * most) / most);
  const light = lightOf(emitters, stepped);
  return { off: distanceOf(xyOf(light), wanted), brighter: light.Y / luminance - 1 };
}

/** Of the most luminance that there is in a colour; of less than a half 8 bits have too few steps for some colours (below). */
const ASKED = { 255: [1, 0.75, 0.5], 65535: [1, 0.5, 0.2, 0.05] } as const;

test("in DMX levels: within 0.003 in u'v' and 2 per cent of the luminance that is asked", () => {
  const worst: Record<string, { off: number; luminance: number }> = {};
  for (const most of [255, 65535] as const) {
    for (const [[name, kinds], share] of Object.entries(LAMPS).flatMap(lamp =>
      ASKED[most].map(share => [lamp, share] as const),
    )) {
      const emitters = lampOf(...kinds);
      const so = { off: 0, luminance: 0 };
      worst[`${name} of ${share} in ${most}`] = so;
      fc.assert(
        fc.property(chromaticity, wanted => {
          const { off, luminance } = mixOf(emitters, wanted);
          if (off > 0) return;
          const had = inSlots(emitters, wanted, share * luminance, most);
          so.off = Math.max(so.off, had.off);
          so.luminance = Math.max(so.luminance, Math.abs(had.brighter));
        }),
        { seed: SEED, numRuns: share === 1 ? 1000 : 300 },
      );
    }
  }
  for (const [key, { off, luminance }] of Object.entries(worst)) {
    expect(off, key).toBeLessThan(key.endsWith('255') ? 0.003 : 3e-4);
    expect(luminance, key).toBeLessThan(key.endsWith('255') ? 0.02 : 3e-3);
  }
});

/**
 * By how much the best of all slots misses: 1 is 0.003 in u'v', or 2 per cent of the luminance. All levels of all
 * emitters, but those that give more or less than what is better than the best so far.
 * @param least only what is better is looked for
 */
function leastMiss(emitters: readonly Xyz[], wanted: Xy, luminance: number, least: number): number {
  const { u, v } = uvOf(wanted);
  const sides = ['X', 'Y', 'Z'] as const;
  const lightsOfStep = emitters.map(one => scaled(one, 1 / 255));
  const rest = emitters.map((_, k) => sumOf(emitters.slice(k + 1)));
  let best = least;
  // X / Y = 9 u' / 4 v' and Z / Y = (12 - 3 u' - 20 v') / 4 v' (CIE 15), at the corners of what is near enough.
  const corner = (sign: number): Xyz => {
    const [far, Y] = [0.003 * best, luminance * (1 + sign * 0.02 * best)];
    const [p, q, low] = [u + sign * far, Math.max(1e-3, v - sign * far), u - sign * far];
    const Z = ((12 - 3 * low - 20 * q) / (4 * q)) * Y;
    return { X: Math.max(0, ((9 * p) / (4 * q)) * Y), Y, Z: Math.max(0, Z) };
  };
  const look = (k: number, X: number, Y: number, Z: number): void => {
    const light = { X, Y, Z };
    const one = lightsOfStep[k];
    if (one === undefined) {
      if (!(Y > 0)) return;
      const off = distanceOf(xyOf(light), wanted) / 0.003;
      best = Math.min(best, Math.max(off, Math.abs(Y / luminance - 1) / 0.02));
      return;
    }
    const [low, high, more] = [corner(-1), corner(1), rest[k] as Xyz];
    let [from, to] = [0, 255];
    for (const side of sides) {
      from = Math.max(from, Math.ceil((low[side] - light[side] - more[side]) / one[side] - 1e-9));
      to = Math.min(to, Math.floor((high[side] - light[side]) / one[side] + 1e-9));
    }
    for (let step = from; step <= to; step++)
      look(k + 1, X + step * one.X, Y + step * one.Y, Z + step * one.Z);
  };
  look(0, 0, 0, 0);
  return best;
}

test.each([
  ['three', 0.2, 60],
  ['three', 0.1, 60],
  ['three', 0.05, 60],
  ['four', 0.2, 6],
  ['four', 0.1, 20],
  ['four', 0.05, 40],
] as const)(
  'as near as 8 bits allow, against all slots that there are: %s of %s',
  (name, share, numRuns) => {
    const emitters = lampOf(...LAMPS[name]);
    let beyond = 0;
    fc.assert(
      fc.property(chromaticity, wanted => {
        const { off, luminance } = mixOf(emitters, wanted);
        if (off > 0) return;
        const had = inSlots(emitters, wanted, share * luminance, 255);
        const miss = Math.max(had.off / 0.003, Math.abs(had.brighter) / 0.02);
        // Half of the bounds is good enough: nothing better is looked for.
        if (miss <= 0.5) return;
        const best = leastMiss(emitters, wanted, share * luminance, miss + 1e-9);
        demand(miss <= best * (1 + 1e-6), () => `${miss}, and ${best} could be had`);
        if (miss > 1) beyond++;
      }),
      { seed: SEED, numRuns },
    );
    // Where 8 bits don't allow it: of a twentieth some colours.
    if (share === 0.05) expect(beyond).toBeGreaterThan(0);
  },
);

test('lights in one plane, more emitters than can be tried, and fine ones beside coarse', () => {
  const whites = lampOf('warm', 'cold');
  const four = [...whites, lightOf(whites, [0.3, 0.3]), lightOf(whites, [0.1, 0.5])];
  const half = xyOf(lightOf(whites, [0.5, 0.5]));
  expect(inSlots(four, half, 30, 255).off).toBeLessThan(0.003);
  expect(Math.abs(inSlots(four, half, 30, 255).brighter)).toBeLessThan(0.02);
  const many = [...lampOf(...LAMPS.seven), ...lampOf(...LAMPS.seven), ...lampOf(...LAMPS.five)];
  const had = inSlots(many, { x: 0.3, y: 0.3 }, 40, 255);
  expect(had.off).toBeLessThan(0.003);
  expect(Math.abs(had.brighter)).toBeLessThan(0.02);
  // The white has 16 bits: it stays where it is, and the others are chosen around it.
  const rgbw = lampOf(...LAMPS.four);
  const { levels } = mixOf(rgbw, { x: 0.3, y: 0.3 }, 30);
  const stepped = inSteps(rgbw, levels, [255, 255, 255, 65535]);
  expect(stepped[3]).toBe(levels[3]);
  for (const level of stepped.slice(0, 3))
    expect(level * 255).toBeCloseTo(Math.round(level * 255), 9);
  expect(distanceOf(xyOf(lightOf(rgbw, stepped)), { x: 0.3, y: 0.3 })).toBeLessThan(0.003);
});

test('xyz of a chromaticity and back', () => {
  fc.assert(
    fc.property(chromaticity, fc.double({ min: 0.1, max: 100, noNaN: true }), (xy, Y) => {
      const { x, y } = xyOf(xyzOf(xy, Y));
      expect(x).toBeCloseTo(xy.x, 10);
      expect(y).toBeCloseTo(xy.y, 10);
    }),
    { seed: SEED },
  );
});
