import { z } from 'zod';
import { BeamAngle } from './palettes.js';
import { NameOf, Point3 } from './parts.js';
import { ChannelValue } from './profile.js';

const ColourOf = NameOf.optional().meta({
  description:
    'A colour of `palettes.colours`: each fixture mixes it with the emitters, filters or wheel that it has.',
});

/** Attribute values in physical units or by name, or words of the palettes; for a head also `aim`, a point on the stage. */
export const Look = z
  .object({
    colour: ColourOf,
    beam: z.union([NameOf, BeamAngle]).optional().meta({
      description:
        'A beam of `palettes.beams`, or a full angle in degrees; the fixture makes it with its Zoom and its Iris.',
    }),
    target: NameOf.optional().meta({
      description:
        'For a moving head: a point of `palettes.points`, or a fixture with a position, instead of Pan and Tilt.',
    }),
    aim: Point3.optional().meta({
      description: 'For a moving head: the point to aim at, metres, instead of Pan and Tilt.',
    }),
  })
  .catchall(ChannelValue);

export type LookFile = z.output<typeof Look>;
