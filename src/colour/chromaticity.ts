/** Tristimulus values of the CIE 1931 standard observer; Y is the luminance, in any unit. */
export interface Xyz {
  readonly X: number;
  readonly Y: number;
  readonly Z: number;
}

/** CIE 1931 chromaticity. */
export interface Xy {
  readonly x: number;
  readonly y: number;
}

/** CIE 1976 chromaticity (u', v'): distances in it are nearest to what people see as such. */
export interface Uv {
  readonly u: number;
  readonly v: number;
}

/** CIE 15:2018, 7.1: Y of the luminance, X = x Y / y, Z = (1 - x - y) Y / y. Expects y above 0. */
export function xyzOf({ x, y }: Xy, luminance: number): Xyz {
  return { X: (x * luminance) / y, Y: luminance, Z: ((1 - x - y) * luminance) / y };
}

/** The chromaticity of a light that is none is that of equal energy. */
export function xyOf({ X, Y, Z }: Xyz): Xy {
  const sum = X + Y + Z;
  return sum > 0 ? { x: X / sum, y: Y / sum } : { x: 1 / 3, y: 1 / 3 };
}

/** CIE 15:2018, 8.2.1: u' = 4 x / (-2 x + 12 y + 3), v' = 9 y / (-2 x + 12 y + 3). */
export function uvOf({ x, y }: Xy): Uv {
  const sum = -2 * x + 12 * y + 3;
  return { u: (4 * x) / sum, v: (9 * y) / sum };
}

/** The reverse of `uvOf`: x = 9 u' / (6 u' - 16 v' + 12), y = 4 v' / (6 u' - 16 v' + 12). */
export function xyOfUv({ u, v }: Uv): Xy {
  const sum = 6 * u - 16 * v + 12;
  return { x: (9 * u) / sum, y: (4 * v) / sum };
}

/** How far two chromaticities are apart in u'v'. */
export function distanceOf(a: Xy, b: Xy): number {
  const [p, q] = [uvOf(a), uvOf(b)];
  return Math.hypot(p.u - q.u, p.v - q.v);
}

/** Of lights that shine together. */
export function sumOf(lights: readonly Xyz[]): Xyz {
  let [X, Y, Z] = [0, 0, 0];
  for (const one of lights) {
    X += one.X;
    Y += one.Y;
    Z += one.Z;
  }
  return { X, Y, Z };
}

export function scaled({ X, Y, Z }: Xyz, by: number): Xyz {
  return { X: X * by, Y: Y * by, Z: Z * by };
}
