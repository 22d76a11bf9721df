import { expect, test } from 'vitest';
import { levelTraces } from '../../../src/reporting/measures/level-traces.js';
import { shadesOf } from '../../../src/reporting/measures/shades.js';

const hexOf = (...rgb: readonly number[]) =>
  `#${rgb.map(one => Math.round(one).toString(16).padStart(2, '0')).join('')}`;
/** From amber to blue. */
const fade = (steps: number) =>
  Array.from({ length: steps + 1 }, (_, i) =>
    hexOf(255 - (200 * i) / steps, 160 - (60 * i) / steps, 20 + (235 * i) / steps),
  );

test('an even fade is two colours, and one that bends has one more at the bend', () => {
  const even = fade(30);
  expect(shadesOf(even)).toEqual([
    { step: 0, hex: even[0] },
    { step: 30, hex: even[30] },
  ]);
  const bent = [...even, ...fade(30).reverse().slice(1)];
  expect(shadesOf(bent).map(({ step }) => step)).toEqual([0, 30, 60]);
  // As it is drawn it is nowhere farther off than four parts of 255.
  const wavy = Array.from({ length: 200 }, (_, i) => hexOf(128 + 127 * Math.sin(i / 12), 200, 90));
  const shades = shadesOf(wavy);
  expect(shades.length).toBeLessThan(60);
  const red = (hex: string) => Number.parseInt(hex.slice(1, 3), 16);
  wavy.forEach((hex, step) => {
    const at = shades.findIndex((one, i) => i > 0 && one.step >= step);
    const [a, b] = [shades[at - 1], shades[at]];
    if (a === undefined || b === undefined) throw new Error(`no shade at ${step}`);
    const drawn = red(a.hex) + ((step - a.step) / (b.step - a.step)) * (red(b.hex) - red(a.hex));
    expect(Math.abs(drawn - red(hex))).toBeLessThanOrEqual(4);
  });
});

test('what changes in the dark is there at once where it comes up', () => {
  const dark = Array.from({ length: 10 }, () => undefined);
  expect(shadesOf([...dark, '#ff0000', '#ff0000', ...dark, '#0000ff', '#0000ff'])).toEqual([
    { step: 10, hex: '#ff0000' },
    { step: 11, hex: '#ff0000' },
    { step: 22, hex: '#ff0000' },
    { step: 22, hex: '#0000ff' },
    { step: 23, hex: '#0000ff' },
  ]);
  expect(shadesOf([])).toEqual([]);
});

test('the strip of a light is a gradient along its colours, and of one colour plain', () => {
  const light = (shades: readonly { step: number; hex: string }[]) => ({
    ...{ fixture: 'cyc', hasIntensity: true, highest: 80, lowest: 0, litS: 10, rises: 1 },
    ...{ fastest: 40, turns: 0, trace: [0, 80, 80, 80, 0], shades },
    colours: shades.map(one => ({ ...one, word: one.hex })),
  });
  const time = { fromS: 0, toS: 4, at: String };
  const drawn = (shades: readonly { step: number; hex: string }[]) =>
    levelTraces([light(shades)], 1, time);
  const changing = drawn([
    { step: 1, hex: '#ffa000' },
    { step: 3, hex: '#0000ff' },
  ]);
  expect(changing).toContain(
    '<stop offset="0.2500" stop-color="#ffa000"/><stop offset="0.7500" stop-color="#0000ff"/>',
  );
  expect(changing.match(/fill="url\(#shades-0\)"/g)).toHaveLength(2);
  const plain = drawn([{ step: 1, hex: '#ffa000' }]);
  expect(plain).toContain('fill="#ffa000"');
  expect(plain).not.toContain('Gradient');
});
