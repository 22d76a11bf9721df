import { z } from 'zod';
import { DEFAULT_COMPENSATION, PARTS } from '../fixtures/optics.js';

const Metres = z.number().positive().max(1000);

const Beam = z
  .strictObject({
    diameter: Metres.max(100).meta({ description: 'Across the beam at the performer, metres.' }),
    by: z.enum(['zoom', 'iris']).default('zoom').meta({
      description:
        '`zoom`, by Zoom; `iris`, by Iris, whose per cent is then the opening as a share of the open beam.',
    }),
  })
  .meta({ description: 'Holds the size of the beam on the performer as the throw changes.' });

const Compensate = z
  .strictObject({
    reference: Metres.meta({
      description: 'The throw for which the intensity is set, metres.',
    }),
    least: z.number().min(0).max(1).default(DEFAULT_COMPENSATION.least).meta({
      description: 'Nearer, it is turned down to this share of what is set at the least.',
    }),
    most: z.number().min(1).max(16).default(DEFAULT_COMPENSATION.most).meta({
      description: 'Farther, it is turned up to so many times what is set, and never beyond full.',
    }),
  })
  .meta({ description: 'Holds the illuminance on the performer, by the inverse square law.' });

/** What a follow mapping asks of aim and optics beyond the pointing itself; each may be left out. */
export const followFields = {
  part: z.enum(PARTS).optional().meta({
    description:
      'Part of the performer to aim at, by their `height` and `wornAt`: `head`, `chest` or `floor`, the floor under them; the tracked point where it is left out. `offset` is added.',
  }),
  ahead: z.number().min(0).max(5).default(0).meta({
    description:
      'Aims ahead of the movement by as far as they go in this time, seconds; a metre at most.',
  }),
  beam: Beam.optional(),
  compensate: Compensate.optional(),
  focus: z
    .array(z.tuple([Metres, z.number()]))
    .min(1)
    .max(32)
    .optional()
    .meta({
      description:
        'Focus1 by the throw: `[[metres, value], ...]`, the metres growing; evenly in 1 / metres in between.',
    }),
};
