import type { Xyz } from './chromaticity.js';

/** Red, green and blue as lights, 0 and up. */
export type Rgb = readonly [red: number, green: number, blue: number];

/** A colour as a screen and a printer show it, and as people call it. */
export interface ShownColour {
  /** `#ffe3c2`: as bright as it can be; how bright it is stands elsewhere. */
  readonly hex: string;
  readonly word: string;
}

/** From light to sRGB, IEC 61966-2-1. */
export function rgbOf({ X, Y, Z }: Xyz): Rgb {
  return [
    3.2406 * X - 1.5372 * Y - 0.4986 * Z,
    -0.9689 * X + 1.8758 * Y + 0.0415 * Z,
    0.0557 * X - 0.204 * Y + 1.057 * Z,
  ];
}

/** @returns undefined for no light at all */
export function shownColour(light: Rgb): ShownColour | undefined {
  const most = Math.max(...light);
  if (!(most > 0)) return undefined;
  const encoded = light.map(value => encode(Math.max(0, value / most))) as [number, number, number];
  const hex = encoded
    .map(value =>
      Math.round(255 * value)
        .toString(16)
        .padStart(2, '0'),
    )
    .join('');
  return { hex: `#${hex}`, word: wordOf(encoded) };
}

/** The inverse of `linear`. */
function encode(value: number): number {
  return value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055;
}

/** Where hues end, degrees, and what people call them: common practice, from memory. */
const HUES: readonly (readonly [upTo: number, word: string])[] = [
  [14, 'red'],
  [30, 'orange'],
  [48, 'amber'],
  [70, 'yellow'],
  [160, 'green'],
  [196, 'turquoise'],
  [252, 'blue'],
  [285, 'violet'],
  [335, 'magenta'],
  [360, 'red'],
];

function wordOf([r, g, b]: Rgb): string {
  const [most, least] = [Math.max(r, g, b), Math.min(r, g, b)];
  const range = most - least;
  const saturation = range / most;
  if (saturation < 0.06) return 'white';
  const sixth =
    most === r ? ((g - b) / range + 6) % 6 : most === g ? (b - r) / range + 2 : (r - g) / range + 4;
  const hue = 60 * sixth;
  const word = HUES.find(([upTo]) => hue <= upTo)?.[1] ?? 'red';
  if (saturation > 0.55) return word;
  if (hue > 15 && hue < 66) return 'warm white';
  if (hue > 190 && hue < 262 && saturation < 0.35) return 'cool white';
  return `pale ${word}`;
}
