import { z } from 'zod';
import { WAVE_SHAPES } from '../../signals/plan.js';
import { SlotSignal } from './desk.js';
import { Degrees, Name, NameOf, Point2, Point3, Seconds } from './parts.js';
import { shaping } from './shaping.js';

/** Groups, signals and conditions as the show file has them; docs/concepts/signals.md says what they mean. */

export const Group = z.array(NameOf).min(1).max(1024).meta({
  description: 'Names of performers, or of fixtures in their order.',
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
      'Whose: a performer, a group, a list of them, or `any`, which is everybody. Of several it is enough that one is there.',
  }),
  every: People.optional().meta({
    description:
      'In place of `of`: every one of them is there; a group, a list, or `any`, which is everybody.',
  }),
};
const ZoneName = NameOf.meta({ description: 'The zone.' });
const Place = z.union([NameOf, Point2, Point3]);

const Presence = z
  .strictObject({
    presence: z.strictObject({ zone: ZoneName, ...whoseFields }).meta({
      description: 'How far somebody is in a zone, 0 to 1: 1 inside, less in its feather.',
    }),
    ...shaping,
  })
  .meta({ title: 'presence signal' });

const Distance = z
  .strictObject({
    distance: z.tuple([Place, Place]).meta({
      description:
        'Metres between two of: a performer, a group (the nearest of it), a fixture, a zone (0 inside), a point `[x, y]` or `[x, y, z]`, and `each`, which is each fixture that a mapping drives. On the plan, but to `[x, y, z]` and to a zone with heights.',
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
          'How far along a line a performer is: metres from its start to the point of it that is nearest to them.',
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
            'Looking which way, degrees anticlockwise from x: 0 from stage right to stage left, 90 from downstage to upstage.',
        }),
      })
      .meta({ description: 'Where a performer is between the two sides of a zone, 0 to 1.' }),
    ...shaping,
  })
  .meta({ title: 'across signal' });

const Height = z
  .strictObject({
    height: People.meta({
      description: 'Height of the tracker of a performer, metres; of several the greatest.',
    }),
    ...shaping,
  })
  .meta({ title: 'height signal' });

const Speed = z
  .strictObject({
    speed: People.meta({
      description:
        'How fast a performer goes, metres a second on the plan; of several the fastest.',
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
            'A direction, degrees anticlockwise from x (270 is to the audience); or a performer, a fixture, a zone or a point.',
        }),
      })
      .meta({
        description:
          'How far the direction of travel is off another one: 0 straight there, 180 straight away, degrees. It stays as it was for who is slower than 0.3 m/s.',
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
          description: 'Which of its arguments, counted from 1: a number, or true or false.',
        }),
        input: NameOf.optional().meta({
          description:
            'The input at which it arrives, by name. May be left out where the show has one input.',
        }),
        timeout: z
          .union([z.literal('never'), z.number().positive().max(3600)])
          .default(DEFAULT_TIMEOUT_S)
          .meta({
            description:
              'Not heard for so long, seconds, it is unknown, and whatever depends on it goes to its safe values. `never`: what was heard last stays, for a sender that speaks only when something changes.',
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
        shape: z.enum(WAVE_SHAPES).default('sine').meta({ description: 'Each begins at 0.' }),
        period: z
          .number()
          .min(0.05)
          .max(3600)
          .meta({ description: 'Seconds from one to the next.' }),
        phase: z
          .number()
          .min(0)
          .max(1)
          .default(0)
          .meta({ description: 'Where in the period it begins, 0 to 1.' }),
        spread: z.number().min(-16).max(16).default(0).meta({
          description:
            'How many periods it is shifted along the fixtures of a mapping, from the first to after the last, in their order; negative: towards the first.',
        }),
      })
      .meta({ description: 'Goes up and down from 0 to 1, whoever is where.' }),
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
      description: 'Signals and numbers, multiplied; one may have a unit.',
    }),
    ...shaping,
  })
  .meta({ title: 'product signal' });
const Sum = z
  .strictObject({
    sum: Operands.meta({ description: 'Signals and numbers of one unit, added.' }),
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
    inverse: NameOf.meta({ description: '1 less a signal that goes from 0 to 1.' }),
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
    description: 'It has to last so long before it is yes, seconds.',
  }),
  hold: Seconds.default(0).meta({ description: 'It stays yes for so long after, seconds.' }),
};

const Threshold = z
  .strictObject({
    signal: NameOf.meta({ description: 'The signal.' }),
    on: z
      .number()
      .optional()
      .meta({ description: 'Yes from here upwards, in the unit of the signal.' }),
    below: z
      .number()
      .optional()
      .meta({ description: 'In place of `on`: yes from here downwards.' }),
    off: z.number().optional().meta({
      description:
        'No from here: at or below `on`, or at or above `below`. In between it is as it was. Where it is left out, the same number.',
    }),
    ...lasting,
  })
  .meta({ title: 'threshold condition' });

const Inside = z
  .strictObject({
    in: NameOf.meta({ description: 'A zone: yes from half presence.' }),
    ...whoseFields,
    ...lasting,
  })
  .meta({ title: 'condition of a zone' });

const Simple = z.union([NameOf, Threshold, Inside]);
const Not = z
  .strictObject({
    not: Simple.meta({ description: 'A condition, by name or written out, turned round.' }),
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
      description: 'Yes while all of them are: names of conditions, or written out.',
    }),
    ...lasting,
  })
  .meta({ title: 'all condition' });
const Any = z
  .strictObject({
    any: Parts.meta({
      description: 'Yes while one of them is: names of conditions, or written out.',
    }),
    ...lasting,
  })
  .meta({ title: 'any condition' });

export const Condition = z.union([Threshold, Inside, All, Any, Not]);
/** A condition by its name, or written out where it is needed. */
export const ConditionOf = z.union([NameOf, Condition]);

export const Groups = z.record(Name, Group).default({}).meta({
  description:
    'Performers, or fixtures in order, by name. The name of a group may stand wherever names of its kind may.',
});
export const Signals = z.record(Name, Signal).default({}).meta({
  description:
    'Numbers that something may depend on, by name: each from one source, then taken through its `range`, `curve`, `attack` and `release`.',
});
export const Conditions = z.record(Name, Condition).default({}).meta({
  description:
    'Yes, no or unknown, by name. Who is lost is not absent: what rests on them is unknown, and what rests on an unknown condition goes to its safe values.',
});

export type SignalFile = z.output<typeof Signal>;
export type ConditionFile = z.output<typeof Condition>;
export type ConditionPartFile = z.output<typeof ConditionOf> | z.output<typeof Not>;
export type PlaceFile = z.output<typeof Place>;
export type PeopleFile = z.output<typeof People>;
