import { z } from 'zod';
import { ChannelValue } from './profile-schema.js';
import { NameOf, Point3 } from './schema-parts.js';

const ColourOf = NameOf.optional().meta({
  description:
    'A colour of `palettes.colours`: each fixture mixes it with the emitters, filters or wheel that it has.',
});

/** Attribute values in physical units or by name; for a head also `aim`, a point on the stage. */
export const Look = z
  .object({
    colour: ColourOf,
    aim: Point3.optional().meta({
      description: 'For a moving head: the point to aim at, metres, instead of Pan and Tilt.',
    }),
  })
  .catchall(ChannelValue);

export type LookFile = z.output<typeof Look>;
