import { expect, test } from 'vitest';
import { isColourOfLight } from '../../src/colour/locus.js';
import { planckian } from '../../src/colour/temperature.js';

/**
 * Colour-matching functions of the CIE 1931 2 degree observer, CIE 15:2018, table T.4, as published at 1 nm by the Munsell Color
 * Science Laboratory (RIT): wavelengths on the table in `locus.ts` and between its rows.
 */
// biome-ignore format: a table
const CMF: readonly (readonly [nm: number, x: number, y: number, z: number])[] = [
  [390, 0.004243, 0.00012, 0.02005001], [455, 0.3187, 0.048, 1.7441], [470, 0.19536, 0.09098, 1.28764],
  [487, 0.04628152, 0.1835581, 0.5504162], [500, 0.0049, 0.323, 0.272], [502, 0.00294532, 0.3546858, 0.2464838],
  [508, 0.00517484, 0.4633944, 0.1792254], [512, 0.01553588, 0.544512, 0.1383758], [517, 0.04112016, 0.6503068, 0.09666748],
  [520, 0.06327, 0.71, 0.07824999], [523, 0.08973996, 0.7619694, 0.06456784], [535, 0.2257499, 0.9148501, 0.02984],
  [570, 0.7621, 0.952, 0.0021], [590, 1.0263, 0.757, 0.0011], [630, 0.6424, 0.265, 4.999999e-5], [690, 0.0227, 0.00821, 0],
];

const WHITE = { x: 1 / 3, y: 1 / 3 };

test.each(CMF)(
  'light of %d nm is a colour, and what is farther out than it is none',
  (_, X, Y, Z) => {
    const sum = X + Y + Z;
    const { x, y } = { x: X / sum, y: Y / sum };
    expect(isColourOfLight({ x, y })).toBe(true);
    const away = Math.hypot(x - WHITE.x, y - WHITE.y);
    for (const by of [0.012, 0.05]) {
      const share = 1 + by / away;
      const out = { x: WHITE.x + share * (x - WHITE.x), y: WHITE.y + share * (y - WHITE.y) };
      expect(isColourOfLight(out), `${out.x}, ${out.y}`).toBe(false);
      const inside = { x: WHITE.x + 0.9 * (x - WHITE.x), y: WHITE.y + 0.9 * (y - WHITE.y) };
      expect(isColourOfLight(inside)).toBe(true);
    }
  },
);

test('whites and purples are colours, and what is beyond the purples is none', () => {
  for (const kelvin of [1000, 2700, 6500, 15000]) {
    expect(isColourOfLight(planckian(kelvin))).toBe(true);
  }
  expect(isColourOfLight({ x: 0.45, y: 0.14 })).toBe(true);
  expect(isColourOfLight({ x: 0.45, y: 0.1 })).toBe(false);
});
