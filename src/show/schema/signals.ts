import { z } from 'zod';
import { WAVE_SHAPES } from '../../signals/plan.js';
import { SlotSignal } from './desk.js';
import { Degrees, Name, NameOf, Point2, Point3, Seconds } from './parts.js';
import { shaping } from './shaping.js';

/** Groups, signals and conditions as the show file has them; docs/concepts/signals.md says what they mean. */

export const Group = z.array(NameOf).min(1).max(1024).meta({
  description: 'Names of performers, or of fixtures in order.',
});

/** Everybody. */
export const ANYBODY = 'any';
/** The fixture that a mapping drives, each in its turn. */
export const EACH = 'each';

/** A performer, a group, a list of them, or `any`. */
export const People = z.union([NameOf, z.array(NameOf).min(1)]);
const whoseFields = {
  of: People.optional().meta({
    description:
      'A performer, a group, a list of them, or `any` for everybody. If there are several, one of them in the zone is enough.',
  }),
  every: People.optional().meta({
    description:
      'Instead of `of`, if all of them have to be there: a group, a list, or `any` for everybody.',
  }),
};
const ZoneName = NameOf.meta({ description: 'The zone.' });
const Place = z.union([NameOf, Point2, Point3]);

const Presence = z
  .strictObject({
    presence: z.strictObject({ zone: ZoneName, ...whoseFields }).meta({
      description: 'Presence in a zone, 0 to 1: 1 inside, less in its feather.',
    }),
    ...shaping,
  })
  .meta({ title: 'presence signal' });

const Distance = z
  .strictObject({
    distance: z.tuple([Place, Place]).meta({
      description:
        'Metres between two places, each a performer, a group (its nearest member), a fixture, a zone (0 inside), a point of the palette (if a zone has the same name, the zone is meant), a point `[x, y]` or `[x, y, z]`, or `each`, which is each fixture that a mapping drives. Measured on the plan, except to `[x, y, z]` and to a zone with heights.',
    }),
    ...shaping,
  })
  .meta({ title: 'distance signal' });

const Along = z
  .strictObject({
    along: z
      .strictObject({
        of: NameOf.meta({ description: 'The performer.' }),
        line: z
          .array(Point2)
          .min(2)
          .max(64)
          .meta({ description: 'Two or more points `[x, y]`, metres.' }),
      })
      .meta({
        description:
          'How far along a line a performer is: metres from its start to the point nearest to them.',
      }),
    ...shaping,
  })
  .meta({ title: 'along signal' });

const Across = z
  .strictObject({
    across: z
      .strictObject({
        of: NameOf.meta({ description: 'The performer.' }),
        zone: ZoneName,
        direction: Degrees.default(0).meta({
          description:
            'Direction in which it grows from 0 to 1, degrees anticlockwise from x: 0 from stage right to stage left, 90 from downstage to upstage.',
        }),
      })
      .meta({ description: 'Where a performer is between the two sides of a zone, 0 to 1.' }),
    ...shaping,
  })
  .meta({ title: 'across signal' });

const Height = z
  .strictObject({
    height: People.meta({
      description:
        "Height of a performer's tracker, metres; the greatest if there are several performers.",
    }),
    ...shaping,
  })
  .meta({ title: 'height signal' });

const Speed = z
  .strictObject({
    speed: People.meta({
      description:
        'How fast a performer moves on the plan, metres a second; the fastest if there are several.',
    }),
    ...shaping,
  })
  .meta({ title: 'speed signal' });

const Heading = z
  .strictObject({
    heading: z
      .strictObject({
        of: NameOf.meta({ description: 'The performer.' }),
        towards: z.union([Degrees, Place]).meta({
          description:
            'A direction, degrees anticlockwise from x (270 is to the audience); or a performer, a fixture, a zone, a point of the palette or `[x, y]`.',
        }),
      })
      .meta({
        description:
          'Angle between the direction of travel and another direction, degrees: 0 straight towards it, 180 straight away. Below 0.3 m/s it keeps its last value.',
      }),
    ...shaping,
  })
  .meta({ title: 'heading signal' });

const Time = z
  .strictObject({
    time: NameOf.meta({
      description: 'Seconds for which a condition has been yes; 0 while it is no.',
    }),
    ...shaping,
  })
  .meta({ title: 'time signal' });

const Count = z
  .strictObject({
    count: z
      .strictObject({ zone: ZoneName, of: whoseFields.of })
      .meta({ description: 'How many performers are in a zone.' }),
    ...shaping,
  })
  .meta({ title: 'count signal' });

const DEFAULT_TIMEOUT_S = 2;

const Osc = z
  .strictObject({
    osc: z
      .strictObject({
        address: z
          .string()
          .min(2)
          .max(255)
          .meta({ description: 'OSC address, such as /sound/level.' }),
        argument: z.int().min(1).max(64).default(1).meta({
          description: 'Which argument of the message, counted from 1: a number, or true or false.',
        }),
        input: NameOf.optional().meta({
          description:
            'The input at which it arrives, by name. May be left out if the show has only one.',
        }),
        timeout: z
          .union([z.literal('never'), z.number().positive().max(3600)])
          .default(DEFAULT_TIMEOUT_S)
          .meta({
            description:
              'After so many seconds without a message the signal is unknown, and whatever depends on it goes to its safe values. `never`: the last value stays, for a sender that sends only when something changes.',
          }),
      })
      .meta({ description: 'A number that arrives by OSC. It needs a `range` to drive anything.' }),
    ...shaping,
  })
  .meta({ title: 'osc signal' });

const Wave = z
  .strictObject({
    wave: z
      .strictObject({
        shape: z
          .enum(WAVE_SHAPES)
          .default('sine')
          .meta({ description: 'Shape of the wave. Each starts at 0.' }),
        period: z
          .number()
          .min(0.05)
          .max(3600)
          .meta({ description: 'Length of one period, seconds.' }),
        phase: z
          .number()
          .min(0)
          .max(1)
          .default(0)
          .meta({ description: 'Where in the period it starts, 0 to 1.' }),
        spread: z.number().min(-16).max(16).default(0).meta({
          description:
            'How many periods it is spread over the fixtures of a mapping, in their order, so that it runs along them; a negative number runs towards the first.',
        }),
      })
      .meta({ description: 'Goes up and down between 0 and 1, wherever people are.' }),
    ...shaping,
  })
  .meta({ title: 'wave signal' });

const Operands = z
  .array(z.union([NameOf, z.number()]))
  .min(2)
  .max(32);

const Product = z
  .strictObject({
    product: Operands.meta({
      description: 'Product of signals and numbers; one of them may have a unit.',
    }),
    ...shaping,
  })
  .meta({ title: 'product signal' });
const Sum = z
  .strictObject({
    sum: Operands.meta({ description: 'Sum of signals and numbers of one unit.' }),
    ...shaping,
  })
  .meta({ title: 'sum signal' });
const Least = z
  .strictObject({
    least: Operands.meta({ description: 'The least of signals and numbers of one unit.' }),
    ...shaping,
  })
  .meta({ title: 'least signal' });
const Greatest = z
  .strictObject({
    greatest: Operands.meta({ description: 'The greatest of signals and numbers of one unit.' }),
    ...shaping,
  })
  .meta({ title: 'greatest signal' });
const Inverse = z
  .strictObject({
    inverse: NameOf.meta({ description: '1 minus a signal that goes from 0 to 1.' }),
    ...shaping,
  })
  .meta({ title: 'inverse signal' });

export const Signal = z.union([
  Presence,
  Distance,
  Along,
  Across,
  Height,
  Speed,
  Heading,
  Time,
  Count,
  Osc,
  SlotSignal,
  Wave,
  Product,
  Sum,
  Least,
  Greatest,
  Inverse,
]);

const lasting = {
  for: Seconds.default(0).meta({
    description: 'How long it must be true before it is yes, seconds.',
  }),
  hold: Seconds.default(0).meta({ description: 'How long it stays yes afterwards, seconds.' }),
};

const Threshold = z
  .strictObject({
    signal: NameOf.meta({ description: 'The signal.' }),
    on: z
      .number()
      .optional()
      .meta({ description: 'Yes from here upwards, in the unit of the signal.' }),
    below: z.number().optional().meta({ description: 'Instead of `on`: yes from here downwards.' }),
    off: z.number().optional().meta({
      description:
        'No from here on: at or below `on`, or at or above `below`. In between it stays as it was. By default the same number.',
    }),
    ...lasting,
  })
  .meta({ title: 'threshold condition' });

const Inside = z
  .strictObject({
    in: NameOf.meta({ description: 'A zone: yes from a presence of 0.5 up.' }),
    ...whoseFields,
    ...lasting,
  })
  .meta({ title: 'condition of a zone' });

const Simple = z.union([NameOf, Threshold, Inside]);
const Not = z
  .strictObject({
    not: Simple.meta({
      description: 'A condition, by name or written out: yes while it is no, no while it is yes.',
    }),
    ...lasting,
  })
  .meta({ title: 'not condition' });
const Parts = z
  .array(z.union([NameOf, Threshold, Inside, Not]))
  .min(1)
  .max(64);
const All = z
  .strictObject({
    all: Parts.meta({
      description: 'Yes while all of these are: names of conditions, or conditions written out.',
    }),
    ...lasting,
  })
  .meta({ title: 'all condition' });
const Any = z
  .strictObject({
    any: Parts.meta({
      description: 'Yes while any of these is: names of conditions, or conditions written out.',
    }),
    ...lasting,
  })
  .meta({ title: 'any condition' });

export const Condition = z.union([Threshold, Inside, All, Any, Not]);
/** A condition by its name, or written out where it is needed. */
export const ConditionOf = z.union([NameOf, Condition]);

export const Groups = z.record(Name, Group).default({}).meta({
  description:
    'Groups of performers, or of fixtures in order, by name. The name of a group may be used wherever names of its members may.',
});
export const Signals = z.record(Name, Signal).default({}).meta({
  description:
    'Numbers that mappings and conditions use, by name: each from one source, then shaped by its `range`, `curve`, `attack` and `release`.',
});
export const Conditions = z.record(Name, Condition).default({}).meta({
  description:
    'Conditions, by name: each is yes, no or unknown. A lost performer is not absent: what depends on them is unknown, and what depends on an unknown condition goes to its safe values.',
});

export type SignalFile = z.output<typeof Signal>;
export type ConditionFile = z.output<typeof Condition>;
export type ConditionPartFile = z.output<typeof ConditionOf> | z.output<typeof Not>;
export type PlaceFile = z.output<typeof Place>;
export type PeopleFile = z.output<typeof People>;
