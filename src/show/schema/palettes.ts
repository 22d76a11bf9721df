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
        'A white of this correlated colour temperature, kelvin: that of a black body, or off it by `duv`.',
    }),
    duv: z.number().min(-0.05).max(0.05).optional().meta({
      description:
        'Distance from the colour of a black body, in CIE 1960 uv: greener above 0, pinker below.',
    }),
    daylight: z.number().min(DAYLIGHT_KELVIN.least).max(DAYLIGHT_KELVIN.most).optional().meta({
      description: 'Daylight (a CIE D illuminant) of this correlated colour temperature, kelvin.',
    }),
    srgb: z.tuple([Byte, Byte, Byte]).optional().meta({
      description:
        'Red, green and blue of a screen, 0 to 255 each. Only its chromaticity counts, not how bright it is.',
    }),
    luminance: z.number().positive().max(100).optional().meta({
      description:
        'Per cent of what the fixture gives with all emitters at full, or with the open lamp. By default, and if the fixture cannot reach it, as much as it can in this colour. Colours with the same `luminance` differ in colour alone.',
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
        'Colours, by name: with `colour: amber` in a look, each fixture mixes that colour with what it has.',
    }),
    points: z.record(Name, Point).default({}).meta({
      description:
        'Places, by name: with `target: table` in a look, each head aims there from where it hangs.',
    }),
    beams: z.record(Name, Beam).default({}).meta({
      description:
        'Beams, by name: with `beam: tight` in a look, each fixture makes that beam with its Zoom, and narrower than that with its Iris.',
    }),
  })
  .prefault({})
  .meta({ description: 'Colours, places and beams that looks refer to by name.' });

export type ColourFile = z.output<typeof Colour>;
export type PointFile = z.output<typeof Point>;
export type BeamFile = z.output<typeof Beam>;
