import { z } from 'zod';
import { Name, NameOf, Seconds } from './schema-parts.js';

/** What is heard of a desk as levels, and what of it passes to the light. */

/** What becomes of the levels of a desk that is gone. */
export const GONE_WORDS = ['hold', 'unknown'] as const;
export const Gone = z.union([z.enum(GONE_WORDS), z.number().min(0).max(1)]);

export const DESK_FADE_S = 2;

export const DeskInput = z.strictObject({
  protocol: z
    .enum(['sacn', 'artnet'])
    .meta({ description: 'Streaming ACN (ANSI E1.31), or Art-Net 4.' }),
  universe: z.int().min(0).max(63999).meta({
    description:
      'Its number on the wire: the universe of sACN (1 to 63999), or the Port-Address of Art-Net (0 to 32767).',
  }),
  interface: z.string().min(1).max(60).meta({
    description: "Address or name of the interface to listen on: that of the desk's network.",
  }),
  gone: Gone.default('hold').meta({
    description:
      'What its slots are when the desk is gone: `hold`, what they were last; a number, 0 to 1 of full; or `unknown`: what rests on them goes to its safe values.',
  }),
  ground: z.int().min(0).max(63999).optional().meta({
    description:
      'Universe of the show that lies on it: slots without a fixture of the show pass as the desk sends them, and fixtures take from it what their `ground` says.',
  }),
  fade: Seconds.default(DESK_FADE_S).meta({
    description:
      'How long what passes from it takes to the value of `gone`, and back when the desk is heard again, seconds.',
  }),
});

export const Desk = z.record(Name, DeskInput).default({}).meta({
  description: 'Universes that are heard from a desk, by name: control slots, or a ground.',
});

const Attributes = z.array(NameOf).min(1).max(64);

export const Ground = z
  .union([
    z.enum(['safe', 'scale']),
    Attributes,
    z.strictObject({
      desk: Attributes.optional().meta({
        description: "Attributes that are the desk's: its levels pass unchanged.",
      }),
      safe: Attributes.optional().meta({
        description:
          "Attributes that are ours while we believe; the safe value is the desk's own level.",
      }),
      scale: Attributes.optional().meta({
        description: "Attributes of which ours is a share of the desk's: `[Dimmer]`.",
      }),
    }),
  ])
  .meta({
    description:
      "What it takes from the desk's levels at its own slots, where its universe has a `ground`. A list of attributes (`colour` is all that makes its colour): these are the desk's, all others ours. `safe`: all of it is ours while we believe, and the safe value is the desk's own level. `scale`: our intensity is a share of the desk's. Hazardous attributes are always ours.",
  });

export type DeskInputFile = z.output<typeof DeskInput>;
export type GroundFile = z.output<typeof Ground>;
