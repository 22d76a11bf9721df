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
        'Whoever of these performers (a group, a list, or `any`) is nearest to the place `to`. A rule has one of nearest, first, order, middle and share.',
    }),
    to: z.union([NameOf, Point3]).optional().meta({
      description: 'Of nearest: a fixture, a performer or `[x, y, z]`, metres.',
    }),
    first: People.optional().meta({
      description:
        'Who of these performers (as with nearest) came into the zone `in` before the others, until they leave it; dark while nobody is there.',
    }),
    in: NameOf.optional().meta({ description: 'Of first: the zone.' }),
    order: People.optional().meta({
      description:
        'The first head follows the first of these performers, the second head the second, and so on.',
    }),
    middle: z.array(NameOf).min(1).optional().meta({
      description:
        'The middle of these performers, or groups; `beam` with `cover` holds them all. Who is lost has no weight any more once their trust is 0; the lit head glides to those who are left at 2 m/s at most, and so to who comes back. Where one of them jumps, it goes to the new middle in the dark.',
    }),
    share: People.optional().meta({
      description:
        'Hand-over: the heads of the mapping serve these performers together, as it is best by throw and angle, nobody without while a head is free.',
    }),
    hold: z.number().min(0).max(600).default(DEFAULT_HOLD_S).meta({
      description:
        'Of nearest and share: a choice stays for so long at least, while its performer is tracked, seconds.',
    }),
    change: z.enum(CHANGES).default('dark').meta({
      description:
        'To follow somebody else a head goes `dark` and moves, or swings there `lit`; of share also `cross`: it stays lit until the head that takes over is there.',
    }),
  })
  .meta({ examples: [{ share: ['mara', 'ilja'] }] });

/** A performer, or a rule by which heads choose one. */
export const Followed = z.union([NameOf, Rule]);
export type RuleFile = z.output<typeof Rule>;

const Beam = z
  .strictObject({
    diameter: Metres.max(100).meta({ description: 'Across the beam at the performer, metres.' }),
    cover: z.number().positive().max(100).optional().meta({
      description:
        'It opens, up to so many metres, so that the place where they likely are (95 %) is within it, with half of `diameter` to spare; and closes again at 1 m/s. Of `middle`: over all of them.',
    }),
    by: z.enum(['zoom', 'iris']).default('zoom').meta({
      description:
        '`zoom`, by Zoom; `iris`, by Iris, whose per cent is then the opening as a share of the open beam.',
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
