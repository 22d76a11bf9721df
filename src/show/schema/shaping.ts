import { z } from 'zod';
import { CURVES } from '../../mapping/options.js';
import { Seconds } from './parts.js';

/** How a signal goes from its source to what comes out. */

export const Curve = z.union([
  z.enum(CURVES),
  z
    .array(z.tuple([z.number().min(0).max(1), z.number().min(0).max(1)]))
    .min(2)
    .max(64),
]);

export const shaping = {
  range: z.tuple([z.number(), z.number()]).optional().meta({
    description:
      'The values that become 0 and 1, in the unit of the signal: `[from, to]`; `from` may be above `to`. Values beyond are limited to 0 or 1. The result has no unit.',
  }),
  curve: Curve.optional().meta({
    description:
      'Curve from 0..1 to a level: linear, smooth, square, root, switch (full from 0.5 up), or points [[from, level], ...].',
  }),
  attack: Seconds.default(0).meta({ description: 'Shortest time from 0 to 1, seconds.' }),
  release: Seconds.default(0).meta({ description: 'Shortest time from 1 to 0, seconds.' }),
};
