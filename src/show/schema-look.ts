import { z } from 'zod';
import { ChannelValue } from './profile-schema.js';
import { Point3 } from './schema-parts.js';

/** Attribute values in physical units or by name; for a head also `aim`, a point on the stage. */
export const Look = z
  .object({
    aim: Point3.optional().meta({
      description: 'For a moving head: the point to aim at, metres, instead of Pan and Tilt.',
    }),
  })
  .catchall(ChannelValue);

export type LookFile = z.output<typeof Look>;
