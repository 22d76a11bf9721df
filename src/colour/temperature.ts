import { type Uv, type Xy, xyOfUv } from './chromaticity.js';

/** Where the formula of the Planckian locus holds, kelvin. */
export const PLANCKIAN_KELVIN = { least: 1000, most: 15000 } as const;
/** And that of the daylight locus. */
export const DAYLIGHT_KELVIN = { least: 4000, most: 25000 } as const;

/**
 * The chromaticity of a black body, and beside it.
 *
 * The locus is that of Krystek, Color Research & Application 10 (1985), 38: rational functions in CIE 1960 uv,
 * within 1e-4 of the integral from 1000 to 15000 K. They have no seams, so that the direction beside the locus is
 * smooth. `duv` is the distance along the normal of the locus, positive above it (ANSI C78.377; Ohno, LEUKOS 10 (2014), 47).
 *
 * @param kelvin correlated colour temperature
 * @param duv in CIE 1960 uv
 */
export function planckian(kelvin: number, duv = 0): Xy {
  const T = kelvin;
  const u = quotient(
    [0.860117757, 1.54118254e-4, 1.28641212e-7],
    [8.42420235e-4, 7.08145163e-7],
    T,
  );
  const v = quotient(
    [0.317398726, 4.22806245e-5, 4.20481691e-8],
    [-2.89741816e-5, 1.61456053e-7],
    T,
  );
  // Towards higher temperatures the locus goes to smaller u: the normal with a positive v lies to its right.
  const length = Math.hypot(u.slope, v.slope);
  return xyOf1960({
    u: u.value + (duv * v.slope) / length,
    v: v.value - (duv * u.slope) / length,
  });
}

/**
 * The chromaticity of a daylight (CIE D) illuminant, CIE 15:2018, 4.1.2.
 * @param kelvin its correlated colour temperature, 4000 to 25000
 */
export function daylight(kelvin: number): Xy {
  const t = 1000 / kelvin;
  const x =
    kelvin <= 7000
      ? ((-4.607 * t + 2.9678) * t + 0.09911) * t + 0.244063
      : ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.23704;
  return { x, y: (-3 * x + 2.87) * x - 0.275 };
}

/** (a + b T + c T^2) / (1 + d T + e T^2), and its slope. */
function quotient(
  [a, b, c]: readonly [number, number, number],
  [d, e]: readonly [number, number],
  T: number,
): { value: number; slope: number } {
  const [above, below] = [a + (b + c * T) * T, 1 + (d + e * T) * T];
  const slope = ((b + 2 * c * T) * below - above * (d + 2 * e * T)) / (below * below);
  return { value: above / below, slope };
}

/** CIE 1960 uv has v = 2/3 v'. */
function xyOf1960({ u, v }: Uv): Xy {
  return xyOfUv({ u, v: 1.5 * v });
}
