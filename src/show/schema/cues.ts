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
        'The mappings that act in this cue, by name; `harbour: 60` for one that acts at 60 per cent. Mappings that are not named are off.',
    }),
  base: Looks.default({}).meta({
    description:
      'Base values in this cue, by fixture or group. Attributes that are not named keep the `base` of the fixture.',
  }),
  safe: Looks.default({}).meta({
    description:
      'Safe values in this cue, by fixture or group. Attributes that are not named keep the `safe` of the fixture.',
  }),
  fade: Seconds.default(DEFAULT_FADE_S).meta({
    description:
      'Crossfade into this cue, seconds: base values, mappings and safe values together.',
  }),
  fire: NameOf.optional().meta({
    description:
      'A condition that brings this cue on when it changes from no to yes. A change from unknown to yes does not count.',
  }),
  off: People.meta({
    description:
      'Performers, or groups of them, who are off stage once this cue comes on. As with `tell STATE_DIR off`, they are back once they have left the stage and are heard on it again.',
  }),
  on: People.meta({
    description: 'Performers, or groups of them, who are on stage again once this cue comes on.',
  }),
});

export type CueFile = z.output<typeof Cue>;
