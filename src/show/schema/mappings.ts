import { z } from 'zod';
import { Followed, followFields } from './follow.js';
import { Name, NameOf, Point3, Seconds } from './parts.js';
import { ChannelValue } from './profile.js';
import { Curve } from './shaping.js';
import { ConditionOf } from './signals.js';

const Fade = z
  .strictObject({
    in: Seconds.default(0.5).meta({ description: 'From nothing to full, seconds; 0 is at once.' }),
    out: Seconds.default(1).meta({ description: 'From full to nothing, seconds.' }),
  })
  .prefault({})
  .meta({ description: 'Seconds from nothing to full, and back.' });

/** `colour`, `beam` and `target`, names of the palettes, are values like any other here: so a slip in a key is told as one. */
const AttributeValues = z.record(Name, ChannelValue);
const FixtureNames = z
  .array(NameOf)
  .min(1)
  .meta({ description: 'Names of fixtures, or of groups of them.' });

const MappingName = Name.meta({ description: 'The name by which cues use it.' });
const always = z.boolean().default(false).meta({
  description: 'Acts in every cue, even if the cue does not name it.',
});
const When = ConditionOf.meta({
  description:
    'Acts while this condition is yes: its name, or the condition itself. While it is unknown, the level is held and fades to the safe values with the lost performers.',
});

const Values = AttributeValues.meta({
  description:
    'Attribute values at full level, in physical units; `colour: amber`, `beam: tight` and `target: table` refer to `palettes`.',
});

/** How what it asks meets what others ask. */
const mixing = {
  from: AttributeValues.optional().meta({
    description:
      'Attribute values at level 0, for attributes that are also in `set`. By default the mapping does nothing at 0.',
  }),
  mix: z.enum(['highest', 'latest', 'add', 'scale']).optional().meta({
    description:
      'How it combines with other mappings on the same fixture: the `highest` wins, the `latest` wins, `add` is added, `scale` reduces the rest to a share. By default highest for intensity and latest for everything else.',
  }),
  priority: z.int().min(-100).max(100).default(0).meta({
    description:
      'If several act on the same attribute of a fixture, only those of the highest priority count.',
  }),
};

const Master = NameOf.meta({
  description:
    'A signal from 0 to 1 that scales the mapping at once, such as a fader of the desk. It multiplies the share that a cue gives the mapping.',
});

const common = {
  name: MappingName.optional(),
  always,
  master: Master.optional(),
  fixtures: FixtureNames,
  set: Values,
  fade: Fade,
};

const ZoneMapping = z
  .strictObject({
    zone: NameOf.meta({ description: 'The zone whose presence drives the fixtures.' }),
    performers: z
      .union([z.literal('any'), z.array(NameOf).min(1)])
      .default('any')
      .meta({
        description: 'Whose presence counts: names of performers or groups, or `any`.',
      }),
    ...common,
    set: AttributeValues.meta({
      description: 'Attribute values at full presence, in physical units.',
    }),
    curve: Curve.default('linear').meta({
      description:
        'Curve from presence to level: linear, smooth, square, root, switch (full from a presence of 0.5 up), or points [[presence, level], ...].',
    }),
    when: When.optional(),
    ...mixing,
  })
  .meta({
    title: 'zone mapping',
    description: "A performer's presence in a zone drives attributes.",
  });

const FollowMapping = z
  .strictObject({
    follow: Followed.meta({
      description: 'The performer whom the heads follow, or a rule by which each head chooses one.',
    }),
    ...common,
    fixtures: FixtureNames.meta({
      description: 'Heads with Pan and Tilt and a position, or groups of them.',
    }),
    offset: Point3.default([0, 0, 0]).meta({
      description: 'Added to the tracked position to get the aim point, metres.',
    }),
    ...followFields,
    set: AttributeValues.meta({
      description: 'Attribute values while following: Dimmer, Zoom ...',
    }),
    when: When.optional(),
  })
  .meta({ title: 'follow mapping', description: 'Moving heads follow a performer.' });

const SignalMapping = z
  .strictObject({
    by: NameOf.meta({ description: 'The signal that drives the fixtures, from 0 to 1.' }),
    when: When.optional(),
    ...common,
    ...mixing,
  })
  .meta({
    title: 'signal mapping',
    description: 'A signal takes attributes from one value to another.',
  });

const ConditionMapping = z
  .strictObject({ when: When, ...common, ...mixing })
  .meta({ title: 'condition mapping', description: 'Acts while a condition is yes.' });

const PlainMapping = z
  .strictObject({ ...common, name: MappingName, ...mixing })
  .meta({ title: 'plain mapping', description: 'Acts in the cues that name it.' });

/**
 * Stops a union from choosing this block as the intended one only because its sole complaints are unknown keys: a
 * zone mapping with a wrong curve is no plain mapping.
 */
function only<Block extends z.ZodType>(block: Block): Block {
  return block.check(({ issues }) => {
    for (const [i, issue] of issues.entries()) {
      if (issue.code === 'unrecognized_keys') issues[i] = { ...issue, continue: false };
    }
  });
}

/** In this order: the first of these keys that is present identifies the block. */
export const Mapping = z.union([
  ZoneMapping,
  FollowMapping,
  SignalMapping,
  only(ConditionMapping),
  only(PlainMapping),
]);

export const Masters = z
  .array(
    z.strictObject({
      fixtures: FixtureNames,
      by: NameOf.meta({ description: 'The signal: 1 lets all of the intensity through, 0 none.' }),
    }),
  )
  .default([])
  .meta({
    description:
      'Masters over fixtures and groups. A master scales all intensity that the show gives them, base values included, but not safe values. While its signal is unknown, they go to their safe values.',
  });

export type FollowMappingFile = z.output<typeof FollowMapping>;
export type ZoneMappingFile = z.output<typeof ZoneMapping>;
export type DrivenMappingFile =
  | z.output<typeof SignalMapping>
  | z.output<typeof ConditionMapping>
  | z.output<typeof PlainMapping>;
export type MappingFile = ZoneMappingFile | FollowMappingFile | DrivenMappingFile;
