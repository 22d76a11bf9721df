import { z } from 'zod';
import { DEFAULT_COMPENSATION, PARTS } from '../../fixtures/optics.js';
import { NameOf, Point3 } from './parts.js';
import { People } from './signals.js';

/** What a head does when it is to follow somebody else: go there in the dark, or lit; or wait, lit, until another one is with whom it leaves. */
export const CHANGES = ['dark', 'lit', 'cross'] as const;
export type Change = (typeof CHANGES)[number];

const Metres = z.number().positive().max(1000);

export const DEFAULT_HOLD_S = 3;

const Rule = z
  .strictObject({
    nearest: People.optional().meta({
      description:
        'Follows whichever of these performers (a group, a list, or `any`) is nearest to `to`. A rule has exactly one of nearest, first, order, middle and share.',
    }),
    to: z.union([NameOf, Point3]).optional().meta({
      description:
        'For nearest: a fixture, a performer, a point of the palette or `[x, y, z]`, metres.',
    }),
    first: People.optional().meta({
      description:
        'Follows whichever of these performers (as with nearest) entered the zone `in` first, until they leave it; dark while nobody is there.',
    }),
    in: NameOf.optional().meta({ description: 'For first: the zone.' }),
    order: People.optional().meta({
      description:
        'The first head follows the first of these performers, the second head the second, and so on.',
    }),
    middle: People.optional().meta({
      description:
        'Follows the middle of these performers (as with nearest); with `beam.cover` the beam covers them all. A lost performer no longer counts once their trust is 0: the lit head then moves to the middle of the others at 2 m/s at most, and back in the same way. If one of them jumps, the head goes to the new middle in the dark.',
    }),
    share: People.optional().meta({
      description:
        'The heads of the mapping share these performers, by the best throw and angle. Nobody is left without a head while one is free.',
    }),
    hold: z.number().min(0).max(600).default(DEFAULT_HOLD_S).meta({
      description:
        'For nearest and share: how long a choice is kept at least, while its performer is tracked, seconds.',
    }),
    change: z.enum(CHANGES).default('dark').meta({
      description:
        'How a head changes to another performer: it goes `dark` and moves, or moves `lit`. For share also `cross`: it stays on its performer, lit, until the head that takes over is there.',
    }),
  })
  .meta({ examples: [{ share: ['mara', 'ilja'] }] });

/** A performer, or a rule by which heads choose one. */
export const Followed = z.union([NameOf, Rule]);
export type RuleFile = z.output<typeof Rule>;

const Beam = z
  .strictObject({
    diameter: Metres.max(100).meta({
      description: 'Diameter of the beam at the performer, metres.',
    }),
    cover: z.number().positive().max(100).optional().meta({
      description:
        'Largest diameter to which the beam opens when the position is uncertain, metres: it covers the area where the performer is with 95 % probability plus half of `diameter`, and closes again at 1 m/s. With `middle` it covers all of them.',
    }),
    by: z.enum(['zoom', 'iris']).default('zoom').meta({
      description:
        'With Zoom or with Iris. The per cent of Iris is then the opening as a share of the open beam.',
    }),
  })
  .meta({
    description: 'Holds the size of the beam on the performer as the throw changes.',
    examples: [{ diameter: 2, cover: 4 }],
  });

const Compensate = z
  .strictObject({
    reference: Metres.meta({
      description: 'The throw for which the intensity is set, metres.',
    }),
    least: z.number().min(0).max(1).default(DEFAULT_COMPENSATION.least).meta({
      description:
        'Nearer than that, the intensity is turned down, to this share of what is set at the least.',
    }),
    most: z.number().min(1).max(16).default(DEFAULT_COMPENSATION.most).meta({
      description:
        'Farther away, it is turned up, to so many times what is set at the most, and never beyond full.',
    }),
  })
  .meta({ description: 'Holds the illuminance on the performer, by the inverse square law.' });

/** What a follow mapping asks of aim and optics beyond the pointing itself; each may be left out. */
export const followFields = {
  part: z.enum(PARTS).optional().meta({
    description:
      'Part of the performer to aim at, worked out from their `height` and `wornAt`: `head`, `chest` or `floor` (the floor under them); by default the tracked point. `offset` is added.',
  }),
  ahead: z.number().min(0).max(5).default(0).meta({
    description:
      'Aims ahead by the distance that the performer covers in this time, seconds; a metre at most.',
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
        'Focus1 by throw: `[[metres, value], ...]`, with increasing metres; in between it is interpolated over 1 / metres.',
    }),
};
