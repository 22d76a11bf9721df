import { expect, it } from 'vitest';
import { sumOf } from '../../src/colour/chromaticity.js';
import { rgbOf, shownColour } from '../../src/colour/shown.js';
import { srgbLights } from '../../src/colour/srgb.js';

it('shows the primaries of sRGB, and their sum as its white (IEC 61966-2-1)', () => {
  const { red, green, blue } = srgbLights();
  expect(shownColour(rgbOf(red))).toEqual({ hex: '#ff0000', word: 'red' });
  expect(shownColour(rgbOf(green))).toEqual({ hex: '#00ff00', word: 'green' });
  expect(shownColour(rgbOf(blue))).toEqual({ hex: '#0000ff', word: 'blue' });
  const white = shownColour(rgbOf(sumOf([red, green, blue])));
  expect(white?.word).toBe('white');
  expect(white?.hex).toMatch(/^#f[ef]f[ef]f[ef]$/);
});

it.each([
  [[1, 0.3, 0], 'amber'],
  [[1, 1, 0], 'yellow'],
  [[0, 1, 1], 'turquoise'],
  [[0.2, 0, 1], 'violet'],
  [[1, 0, 1], 'magenta'],
  [[1, 0.78, 0.55], 'warm white'],
  [[0.6, 0.8, 1], 'cool white'],
  [[1, 0.4, 0.45], 'pale red'],
  [[0.3, 0.3, 0.3], 'white'],
] as const)('%j is %s', (light, word) => {
  expect(shownColour(light)?.word).toBe(word);
});

it('is nothing without light, and as bright as it can be with a little', () => {
  expect(shownColour([0, 0, 0])).toBeUndefined();
  expect(shownColour([0.001, 0, 0])?.hex).toBe('#ff0000');
});
