import { type Xy, type Xyz, xyOf, xyzOf } from './chromaticity.js';

/** Primaries of sRGB, IEC 61966-2-1, table 1. */
export const SRGB_PRIMARIES = {
  red: { x: 0.64, y: 0.33 },
  green: { x: 0.3, y: 0.6 },
  blue: { x: 0.15, y: 0.06 },
} as const satisfies Record<string, Xy>;

/** Luminances of the primaries in a white of 1, IEC 61966-2-1, equation 7. */
const LUMINANCES = { red: 0.2126, green: 0.7152, blue: 0.0722 } as const;

/** Red, green and blue as lights that make a white of luminance 1 together. */
export function srgbLights(): Record<keyof typeof SRGB_PRIMARIES, Xyz> {
  const { red, green, blue } = SRGB_PRIMARIES;
  return {
    red: xyzOf(red, LUMINANCES.red),
    green: xyzOf(green, LUMINANCES.green),
    blue: xyzOf(blue, LUMINANCES.blue),
  };
}

/** IEC 61966-2-1, equations 5 and 6: a value of 0 to 1 as light of 0 to 1. */
export function linear(value: number): number {
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
}

/**
 * The chromaticity of an sRGB colour.
 * @param rgb 0 to 255 each, not all of them 0
 */
export function xyOfSrgb([r, g, b]: readonly [number, number, number]): Xy {
  const { red, green, blue } = srgbLights();
  const [R, G, B] = [linear(r / 255), linear(g / 255), linear(b / 255)];
  return xyOf({
    X: R * red.X + G * green.X + B * blue.X,
    Y: R * red.Y + G * green.Y + B * blue.Y,
    Z: R * red.Z + G * green.Z + B * blue.Z,
  });
}
