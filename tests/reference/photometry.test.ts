/**
 * Photometry against values worked out from the laws themselves: the inverse square and cosine laws,
 * the diameter 2 d tan(angle / 2), and candela of a uniform cone (solid angle 2 pi (1 - cos(angle / 2))).
 * Formula sheets: roughlogic.com/tools/lighting-beam, and a luminaire maker's page. The multiplying
 * factors are those published for profile spots by field angle (common practice: printed in their data).
 */
import { describe, expect, test } from 'vitest';
import { beamDiameterM, illuminanceLx, intensityCd } from '../../src/fixtures/optics.js';
import { type Degrees, type Radians, toRadians } from '../../src/stage/units.js';

const rad = (degrees: number): Radians => toRadians(degrees as Degrees);

describe('illuminance of 100 000 cd', () => {
  test.each([
    [10, 0, 1000],
    [20, 0, 250],
    [10, 60, 500],
  ])('at %d m and %d degrees: %d lx', (throwM, incidence, lx) => {
    expect(illuminanceLx(100_000, throwM, rad(incidence))).toBeCloseTo(lx, 9);
  });

  test('on a floor I cos^3 / h^2 is the same', () => {
    const [heightM, angle] = [6, rad(35)];
    const throwM = heightM / Math.cos(angle);
    const onFloor = (100_000 * Math.cos(angle) ** 3) / heightM ** 2;
    expect(illuminanceLx(100_000, throwM, angle)).toBeCloseTo(onFloor, 9);
  });

  test('from behind the surface there is none', () => {
    expect(illuminanceLx(100_000, 10, rad(120))).toBe(0);
  });
});

test.each([
  [5, 0.8732],
  [10, 1.7498],
  [20, 3.5265],
  [26, 4.6174],
  [36, 6.4984],
  [50, 9.3262],
])('a beam of %d degrees is %d m across at 10 m', (angle, diameter) => {
  expect(beamDiameterM(10, rad(angle))).toBeCloseTo(diameter, 4);
});

test.each([
  [50, 0.93],
  [36, 0.65],
  [26, 0.46],
  [10, 0.17],
  [5, 0.09],
])('the published multiplying factor of %d degrees is %d', (angle, factor) => {
  expect(beamDiameterM(1, rad(angle))).toBeCloseTo(factor, 2);
});

test('10 000 lm in 25 degrees are 67 143 cd', () => {
  expect(intensityCd(10_000, rad(25))).toBeCloseTo(67_143, 0);
});

test('a flux over the whole sphere is flux / 4 pi', () => {
  expect(intensityCd(4 * Math.PI, rad(360))).toBeCloseTo(1, 12);
});
