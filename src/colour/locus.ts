import type { Xy } from './chromaticity.js';

/**
 * The colours of light of one wavelength, by nanometres: CIE 1931 x and y of the 2 degree observer, from the colour-matching
 * functions of CIE 15:2018, table T.4. All light is a mix of these, and lies within them.
 */
// biome-ignore format: a table
const LOCUS: readonly (readonly [nm: number, x: number, y: number])[] = [
  [380, 0.1741, 0.0050], [400, 0.1733, 0.0048], [420, 0.1714, 0.0051], [430, 0.1689, 0.0069],
  [440, 0.1644, 0.0109], [450, 0.1566, 0.0177], [460, 0.1440, 0.0297], [465, 0.1355, 0.0399],
  [470, 0.1241, 0.0578], [475, 0.1096, 0.0868], [480, 0.0913, 0.1327], [485, 0.0687, 0.2007],
  [490, 0.0454, 0.2950], [495, 0.0235, 0.4127], [500, 0.0082, 0.5384], [505, 0.0039, 0.6548],
  [510, 0.0139, 0.7502], [515, 0.0389, 0.8120], [520, 0.0743, 0.8338], [525, 0.1142, 0.8262],
  [530, 0.1547, 0.8059], [540, 0.2296, 0.7543], [550, 0.3016, 0.6923], [560, 0.3731, 0.6245],
  [580, 0.5125, 0.4866], [600, 0.6270, 0.3725], [620, 0.6915, 0.3083], [650, 0.7260, 0.2740],
  [700, 0.7347, 0.2653],
];

/** The lines between the wavelengths above cut off as much of the curve at the most, and figures are rounded. */
const MARGIN = 0.005;

/** A chromaticity that light can have: within the spectrum locus and the line of purples between its ends. */
export function isColourOfLight({ x, y }: Xy): boolean {
  let isInside = false;
  let [, ax, ay] = LOCUS[LOCUS.length - 1] as (typeof LOCUS)[number];
  for (const [, bx, by] of LOCUS) {
    if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) isInside = !isInside;
    if (apart(x, y, ax, ay, bx, by) <= MARGIN) return true;
    [ax, ay] = [bx, by];
  }
  return isInside;
}

/** From a point to a line between two others. */
function apart(x: number, y: number, ax: number, ay: number, bx: number, by: number): number {
  const [dx, dy] = [bx - ax, by - ay];
  const share = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy);
  const t = Math.min(1, Math.max(0, share));
  return Math.hypot(x - ax - t * dx, y - ay - t * dy);
}
