import { isColourOfLight } from '../../colour/locus.js';
import { planckian } from '../../colour/temperature.js';
import type { Finding } from '../problems/problem.js';
import type { ShowFile } from '../schema/schema.js';

const WAYS = ['xy', 'kelvin', 'daylight', 'srgb'] as const;

/** Colours: each is defined in one way. */
export function checkPalettes({ palettes }: ShowFile): Finding[] {
  return Object.entries(palettes.colours).flatMap(([name, colour]): Finding[] => {
    const path = ['palettes', 'colours', name];
    const said = WAYS.filter(way => colour[way] !== undefined);
    if (said.length !== 1) {
      const has = said.length === 0 ? 'has no definition' : `has ${said.join(' and ')}`;
      const message = `colour "${name}" ${has}; give it one of xy, kelvin, daylight and srgb.`;
      return [{ code: 'colour-said', message, path, atKey: true }];
    }
    if (colour.duv !== undefined && colour.kelvin === undefined) {
      const message = `duv of colour "${name}" is a distance from the colour of a black body, so it needs kelvin.`;
      return [{ code: 'colour-said', message, path: [...path, 'duv'], atKey: true }];
    }
    if (colour.srgb?.every(value => value === 0)) {
      const message = `colour "${name}" is black, and no lamp makes black light: use Dimmer for the amount of light.`;
      return [{ code: 'colour-said', message, path: [...path, 'srgb'] }];
    }
    const { xy, kelvin, duv } = colour;
    const light = xy ? { x: xy[0], y: xy[1] } : kelvin && duv ? planckian(kelvin, duv) : undefined;
    if (light !== undefined && !isColourOfLight(light)) {
      const message =
        xy === undefined
          ? `colour "${name}" is impossible for light: duv ${duv} is too far from ${kelvin} K.`
          : `colour "${name}" is impossible for light: xy [${xy.join(', ')}] is outside the spectrum locus of CIE 1931.`;
      return [{ code: 'colour-said', message, path: [...path, xy === undefined ? 'duv' : 'xy'] }];
    }
    return [];
  });
}
