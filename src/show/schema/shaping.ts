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
      'What is 0 and what is 1, in the unit of the signal: `[from, to]`; `from` may be above `to`. Beyond it stays at 0 or 1. With it the signal has no unit any more.',
  }),
  curve: Curve.optional().meta({
    description:
      'From 0 to 1 to a level: linear, smooth, square, root, switch (from a half), or points [[from, level], ...].',
  }),
  attack: Seconds.default(0).meta({ description: 'From 0 to 1 no faster than this, seconds.' }),
  release: Seconds.default(0).meta({ description: 'From 1 to 0 no faster than this, seconds.' }),
};
