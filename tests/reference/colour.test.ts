import Color from 'colorjs.io';
import { uv as uvByColorjs } from 'colorjs.io/fn';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { distanceOf, uvOf, type Xy, xyOfUv, xyzOf } from '../../src/colour/chromaticity.js';
import { srgbLights, xyOfSrgb } from '../../src/colour/srgb.js';
import { daylight, planckian } from '../../src/colour/temperature.js';

const SEED = 20261130;

/** White (D65) of sRGB, IEC 61966-2-1, table 1. */
const SRGB_WHITE: Xy = { x: 0.3127, y: 0.329 };

describe('the Planckian locus', () => {
  /** Kim et al., US patent 7,024,034 (2006), and as printed in the literature since 2002: cubics, 1667 to 25000 K. */
  function kim(kelvin: number): Xy {
    const t = 1000 / kelvin;
    const x =
      kelvin <= 4000
        ? -0.2661239 * t ** 3 - 0.2343589 * t ** 2 + 0.8776956 * t + 0.17991
        : -3.0258469 * t ** 3 + 2.1070379 * t ** 2 + 0.2226347 * t + 0.24039;
    const y =
      kelvin <= 2222
        ? -1.1063814 * x ** 3 - 1.3481102 * x ** 2 + 2.18555832 * x - 0.20219683
        : kelvin <= 4000
          ? -0.9549476 * x ** 3 - 1.37418593 * x ** 2 + 2.09137015 * x - 0.16748867
          : 3.081758 * x ** 3 - 5.8733867 * x ** 2 + 3.75112997 * x - 0.37001483;
    return { x, y };
  }

  test('Kim et al. 2002, from 1667 to 15000 K', () => {
    for (let kelvin = 1667; kelvin <= 15000; kelvin += 7) {
      expect(distanceOf(planckian(kelvin), kim(kelvin)), `${kelvin} K`).toBeLessThan(5e-4);
    }
  });

  test.each([
    // Wyszecki and Stiles, Color Science, 2nd ed., table I(6.5.1); from memory.
    [1000, 0.6528, 0.3444],
    [1500, 0.5857, 0.3931],
    [2000, 0.5267, 0.4133],
    [2500, 0.477, 0.4137],
    [3000, 0.4369, 0.4041],
    [4000, 0.3805, 0.3768],
    [5000, 0.3451, 0.3516],
    [6500, 0.3135, 0.3237],
    [10000, 0.2807, 0.2884],
    // CIE 15: illuminant A is a Planckian radiator at about 2856 K.
    [2856, 0.44758, 0.40745],
  ])('%d K', (kelvin, x, y) => {
    expect(distanceOf(planckian(kelvin), { x, y })).toBeLessThan(6e-4);
  });

  test('a distance from it: Ohno, LEUKOS 10 (2014), as the colour-science library prints it', () => {
    const { u, v } = uvOf(planckian(6507.4342201, 0.003223690901513));
    expect(u).toBeCloseTo(0.1978, 3);
    expect((2 / 3) * v).toBeCloseTo(0.3122, 3);
  });

  test('D65 lies 0.0032 above it', () => {
    expect(distanceOf(planckian(6507.4, 0.0032), SRGB_WHITE)).toBeLessThan(5e-4);
    // A positive distance is the greener one.
    expect(planckian(4000, 0.005).y).toBeGreaterThan(planckian(4000).y);
    expect(planckian(4000, -0.005).y).toBeLessThan(planckian(4000).y);
  });

  test('a distance is as long as it says, and square to the locus', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1100, max: 14900, noNaN: true }),
        fc.double({ min: -0.02, max: 0.02, noNaN: true }),
        (kelvin, duv) => {
          const in1960 = (xy: Xy) => ({ u: uvOf(xy).u, v: (2 / 3) * uvOf(xy).v });
          const [on, off] = [in1960(planckian(kelvin)), in1960(planckian(kelvin, duv))];
          const [du, dv] = [off.u - on.u, off.v - on.v];
          expect(Math.hypot(du, dv)).toBeCloseTo(Math.abs(duv), 9);
          const [a, b] = [in1960(planckian(kelvin - 1)), in1960(planckian(kelvin + 1))];
          const along = Math.hypot(b.u - a.u, b.v - a.v);
          expect(Math.abs(du * (b.u - a.u) + dv * (b.v - a.v)) / along).toBeLessThan(1e-6);
        },
      ),
      { seed: SEED },
    );
  });
});

test.each([
  // CIE 15:2004, table T.3, illuminants D at their true correlated colour temperatures.
  [5003, 0.34567, 0.3585],
  [5503, 0.33242, 0.34743],
  [6504, 0.31272, 0.32903],
  [7504, 0.29902, 0.31485],
])('daylight of %d K', (kelvin, x, y) => {
  expect(daylight(kelvin).x).toBeCloseTo(x, 3);
  expect(daylight(kelvin).y).toBeCloseTo(y, 3);
});

describe('sRGB', () => {
  test('IEC 61966-2-1: primaries that make D65 together, and its matrix', () => {
    const { red, green, blue } = srgbLights();
    const white = xyzOf(SRGB_WHITE, 1);
    for (const k of ['X', 'Y', 'Z'] as const) {
      expect(red[k] + green[k] + blue[k]).toBeCloseTo(white[k], 3);
    }
    // Equation 7.
    const printed = { X: [0.4124, 0.3576, 0.1805], Z: [0.0193, 0.1192, 0.9505] };
    for (const k of ['X', 'Z'] as const) {
      [red, green, blue].forEach((one, i) => {
        expect(Math.abs(one[k] - (printed[k][i] as number))).toBeLessThan(3e-4);
      });
    }
    expect(distanceOf(xyOfSrgb([255, 255, 255]), SRGB_WHITE)).toBeLessThan(2e-4);
  });

  test('colorjs.io 0.7 has the same chromaticities', () => {
    const value = fc.integer({ min: 0, max: 255 });
    fc.assert(
      fc.property(value, value, value, (r, g, b) => {
        if (r + g + b === 0) return;
        const [X, Y, Z] = new Color('srgb', [r / 255, g / 255, b / 255]).to('xyz-d65').coords as [
          number,
          number,
          number,
        ];
        const sum = X + Y + Z;
        expect(distanceOf(xyOfSrgb([r, g, b]), { x: X / sum, y: Y / sum })).toBeLessThan(5e-4);
      }),
      { seed: SEED, numRuns: 300 },
    );
  });
});

test("u'v' of xy, by colorjs.io", () => {
  const part = fc.double({ min: 0.05, max: 0.6, noNaN: true });
  fc.assert(
    fc.property(part, part, (x, y) => {
      if (x + y > 0.95) return;
      const { X, Y, Z } = xyzOf({ x, y }, 0.5);
      const [u, v] = uvByColorjs(new Color('xyz-d65', [X, Y, Z])) as [number, number];
      expect(uvOf({ x, y }).u).toBeCloseTo(u, 9);
      expect(uvOf({ x, y }).v).toBeCloseTo(v, 9);
      expect(xyOfUv({ u, v }).x).toBeCloseTo(x, 9);
    }),
    { seed: SEED, numRuns: 200 },
  );
});
