import Color from 'colorjs.io';
import { describe, expect, it } from 'vitest';
import type { FixturePlan } from '../../../src/show/model/model.js';
import { lightColour } from '../../../src/show/palettes/light-colour.js';
import { changed } from '../base.js';
import { showOf } from '../show-of.js';

/** The filters of `glass` take one primary of sRGB (IEC 61966-2-1) each from a lamp of 3200 K. */
const PROFILES = `profiles:
  flags: { optics: { colourTemperature: 7000 }, channels: [{ attribute: Dimmer }, { attribute: ColorSub_C }, { attribute: ColorSub_M }, { attribute: ColorSub_Y }] }
  back: { channels: [{ attribute: Dimmer }, { attribute: ColorSub_C, range: [100, 0] }, { attribute: ColorSub_M, range: [100, 0] }, { attribute: ColorSub_Y, range: [100, 0] }] }
  glass:
    optics: { colourTemperature: 3200 }
    channels:
      - { attribute: Dimmer }
      - { attribute: ColorSub_C, filter: { xy: [0.2587, 0.4515], luminance: 64.29 } }
      - { attribute: ColorSub_M, filter: { xy: [0.5098, 0.2582], luminance: 38.06 } }
      - { attribute: ColorSub_Y, filter: { xy: [0.474, 0.4618], luminance: 97.65 } }
      - attribute: Color1
        values:
          open: { levels: [0, 9] }
          rose: { levels: [10, 19], xy: [0.5, 0.33], luminance: 20 }
  pair: { channels: [{ attribute: Dimmer }, { attribute: ColorSub_M }] }
`;

/** One fixture of the profile, with this base. */
function shown(profile: string, base = '') {
  const fixture = `  one: { profile: ${profile}, universe: 1, address: 101, base: { Dimmer: 50, ${base} } }\n`;
  const palettes = `palettes: { colours: { pink: { xy: [0.36, 0.29] }, sea: { xy: [0.28, 0.36] }, warm: { kelvin: 2900 } } }\n`;
  const { fixtures } = showOf(
    changed('fixtures:\n', `${PROFILES}${palettes}fixtures:\n${fixture}`),
  );
  const plan = fixtures.find(({ name }) => name === 'one') as FixturePlan;
  return lightColour(plan.profile, plan.base);
}

/** As bright as it can be on a screen, by another library. */
function screenOf(x: number, y: number): string {
  const linear = new Color('xyz-d65', [x / y, 1, (1 - x - y) / y]).to('srgb-linear').coords;
  const most = Math.max(...linear.map(Number));
  const rgb = linear.map(part => Math.max(0, Number(part) / most)) as [number, number, number];
  return new Color('srgb-linear', rgb).to('srgb').toString({ format: 'hex', collapse: false });
}

/** Whether two are the same but for the rounding of a screen's steps. */
function isNear(hex: string | undefined, wanted: string): boolean {
  const parts = (text: string) => [1, 3, 5].map(i => Number.parseInt(text.slice(i, i + 2), 16));
  return parts(hex ?? '#').every((part, i) => Math.abs(part - (parts(wanted)[i] ?? 0)) <= 2);
}

describe('the colour of a lamp behind filters', () => {
  it.each([
    ['flags', 'pink', 0.36, 0.29],
    ['flags', 'sea', 0.28, 0.36],
    ['back', 'pink', 0.36, 0.29],
    ['back', 'sea', 0.28, 0.36],
    ['glass', 'warm', 0.4431, 0.4047],
  ])('is the one that %s is asked for: %s', (profile, colour, x, y) => {
    expect([shown(profile, `colour: ${colour}`)?.hex, screenOf(x, y)]).toSatisfy(([hex, wanted]) =>
      isNear(hex, wanted),
    );
  });

  it.each([
    ['ColorSub_C', 0.2587, 0.4515, 'green'],
    ['ColorSub_M', 0.5098, 0.2582, 'magenta'],
    ['ColorSub_Y', 0.474, 0.4618, 'amber'],
  ])('with %s all in is what its profile says of it', (attribute, x, y, word) => {
    const colour = shown('glass', `${attribute}: 100`);
    expect([colour?.hex, screenOf(x, y)]).toSatisfy(([hex, wanted]) => isNear(hex, wanted));
    expect(colour?.word).toBe(word);
  });

  it('is that of the lamp with all of them out, and no light with all of them in', () => {
    expect(shown('glass')?.word).toBe('warm white');
    expect(shown('back', 'ColorSub_C: 0, ColorSub_M: 0, ColorSub_Y: 0')?.word).toBe('white');
    expect(shown('flags', 'ColorSub_C: 100, ColorSub_M: 100, ColorSub_Y: 100')).toBeUndefined();
  });

  it('goes through the wheel, too, which has its own name while nothing else is in the way', () => {
    const rose = shown('glass', 'Color1: rose');
    expect(rose?.word).toBe('rose');
    expect([rose?.hex, screenOf(0.5, 0.33)]).toSatisfy(([hex, wanted]) => isNear(hex, wanted));
    const both = shown('glass', 'Color1: rose, ColorSub_Y: 100');
    expect(both?.word).not.toBe('rose');
    // The yellow filter takes the blue that the rose lets through.
    const blue = (hex = '#000000') => Number.parseInt(hex.slice(5), 16);
    expect(blue(both?.hex)).toBeLessThan(blue(rose?.hex));
    expect(shown('glass', 'Color1: open')?.hex).toBe(shown('glass')?.hex);
  });

  it('goes by their names where a profile has too few of them, and says nothing of what they let through', () => {
    expect(shown('pair', 'ColorSub_M: 100')?.word).toBe('magenta');
    expect(shown('pair', 'ColorSub_M: 0')?.word).toBe('white');
  });
});
