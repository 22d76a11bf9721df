import { z } from 'zod';
import { DAYLIGHT_KELVIN, PLANCKIAN_KELVIN } from '../../colour/temperature.js';
import { Label, Name, Point3 } from './parts.js';
import { Chromaticity } from './profile.js';

const Byte = z.int().min(0).max(255);

const Colour = z
  .strictObject({
    label: Label.optional(),
    xy: Chromaticity.optional().meta({
      description: 'CIE 1931 x and y. A colour has one of xy, kelvin, daylight and srgb.',
    }),
    kelvin: z.number().min(PLANCKIAN_KELVIN.least).max(PLANCKIAN_KELVIN.most).optional().meta({
      description:
        'A white of this correlated colour temperature: of a black body, or beside it by `duv`.',
    }),
    duv: z.number().min(-0.05).max(0.05).optional().meta({
      description:
        'Distance from the colour of a black body, in CIE 1960 uv: above 0 greener, below 0 pinker.',
    }),
    daylight: z.number().min(DAYLIGHT_KELVIN.least).max(DAYLIGHT_KELVIN.most).optional().meta({
      description: 'Daylight (a CIE D illuminant) of this correlated colour temperature, kelvin.',
    }),
    srgb: z.tuple([Byte, Byte, Byte]).optional().meta({
      description:
        'Red, green and blue of a screen, 0 to 255 each. Its chromaticity counts, and not how bright it is.',
    }),
    luminance: z.number().positive().max(100).optional().meta({
      description:
        'Per cent of what the fixture gives with all of its emitters at full, or with the open lamp; the most that it can in this colour where that is less, or where this is left out. Colours with the same `luminance` differ in colour alone.',
    }),
  })
  .meta({ examples: [{ kelvin: 3200 }] });

const Point = z
  .union([
    Point3,
    z.strictObject({
      label: Label.optional(),
      at: Point3.meta({ description: 'Metres, stage frame.' }),
    }),
  ])
  .meta({ description: 'A place on the stage: `[x, y, z]`, metres, or with a label.' });

/** From edge to edge of the beam, degrees. */
export const BeamAngle = z.number().positive().max(170);

const Beam = z
  .union([
    BeamAngle,
    z.strictObject({
      label: Label.optional(),
      angle: BeamAngle.meta({ description: 'Full angle of the beam, degrees.' }),
    }),
  ])
  .meta({ description: 'How wide a beam is: its full angle, degrees, or with a label.' });

export const Palettes = z
  .strictObject({
    colours: z.record(Name, Colour).default({}).meta({
      description:
        'Colours, by name: a look says `colour: amber`, and each fixture mixes it with what it has.',
    }),
    points: z.record(Name, Point).default({}).meta({
      description:
        'Places, by name: a look says `target: table`, and each head aims there from where it hangs.',
    }),
    beams: z.record(Name, Beam).default({}).meta({
      description:
        'Beams, by name: a look says `beam: tight`, and each fixture has it by its Zoom, and by its Iris where that is narrower.',
    }),
  })
  .prefault({})
  .meta({ description: 'What looks name instead of figures.' });

export type ColourFile = z.output<typeof Colour>;
export type PointFile = z.output<typeof Point>;
export type BeamFile = z.output<typeof Beam>;
