import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  distanceOf,
  scaled,
  sumOf,
  type Xy,
  type Xyz,
  xyOf,
  xyzOf,
} from '../../src/colour/chromaticity.js';
import { gamutOf, nearestIn } from '../../src/colour/gamut.js';
import { mixOf } from '../../src/colour/mix.js';
import { inSteps } from '../../src/colour/stepped.js';
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

/**
 * Of the most luminance that there is in a colour. In 8 bits the rest has steps that are too coarse, whatever levels are taken:
 * a tenth is 25 steps of an emitter that is full, and a few of the others. `check` tells of it.
 */
const ASKED = { 255: [1, 0.75], 65535: [1, 0.5, 0.2, 0.05] } as const;

test("in DMX levels: within 0.003 in u'v' and 2 per cent of the luminance that is asked", () => {
  const worst: Record<string, { off: number; luminance: number }> = {};
  for (const most of [255, 65535] as const) {
    for (const [[name, kinds], share] of Object.entries(LAMPS).flatMap(lamp =>
      ASKED[most].map(share => [lamp, share] as const),
    )) {
      const emitters = lampOf(...kinds);
      const key = `${name} of ${share} in ${most}`;
      const so = { off: 0, luminance: 0 };
      worst[key] = so;
      fc.assert(
        fc.property(chromaticity, wanted => {
          const { off, luminance } = mixOf(emitters, wanted);
          if (off > 0) return;
          const mixed = mixOf(emitters, wanted, share * luminance);
          const light = lightOf(
            emitters,
            inSteps(
              emitters,
              mixed.levels,
              emitters.map(() => most),
            ).map(level => Math.round(level * most) / most),
          );
          so.off = Math.max(so.off, distanceOf(xyOf(light), wanted));
          so.luminance = Math.max(so.luminance, Math.abs(light.Y / (share * luminance) - 1));
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
