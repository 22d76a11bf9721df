import { z } from 'zod';
import { Look } from './look.js';
import { Label, NameOf, Seconds } from './parts.js';

/** A cue whose file doesn't say takes so long, seconds: slow enough to be seen as a change of mood, not a bump. */
const DEFAULT_FADE_S = 3;

const People = z.array(NameOf).default([]);
const Looks = z.record(NameOf, Look);

export const Cue = z.strictObject({
  label: Label.optional(),
  mappings: z
    .array(z.union([NameOf, z.record(NameOf, z.number().min(0).max(100))]))
    .default([])
    .meta({
      description:
        'The mappings that act in it, by name; `harbour: 60` for one that acts at 60 per cent. Those not named are off in it.',
    }),
  base: Looks.default({}).meta({
    description:
      'By fixture, or group of them, what it shows in this cue while no mapping acts; what is not said stays as in the `base` of the fixture.',
  }),
  safe: Looks.default({}).meta({
    description:
      'By fixture, or group of them, its part of the safe look of this cue; what is not said stays as in the safe look of the fixture.',
  }),
  fade: Seconds.default(DEFAULT_FADE_S).meta({
    description:
      'Crossfade from what is lit to this cue, seconds: base values, mappings and safe values together.',
  }),
  fire: NameOf.optional().meta({
    description:
      'A condition that brings this cue on when it changes from no to yes; from unknown to yes is no change.',
  }),
  off: People.meta({
    description:
      'Who is off stage from when it comes on: performers, or groups of them. As with `tell STATE_DIR off`, they are back once they have left the stage and are heard on it again.',
  }),
  on: People.meta({
    description: 'Who is on stage again from when it comes on.',
  }),
});

export type CueFile = z.output<typeof Cue>;
