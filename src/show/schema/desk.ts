import { z } from 'zod';
import { ENABLED_CLASSES } from '../../protocols/osc/orders.js';
import { Name, NameOf, Seconds } from './parts.js';
import { shaping } from './shaping.js';

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
      "What it takes from the desk's levels at its own slots, where its universe has a `ground`. A list of attributes (`colour` is all that makes its colour, `beam` Zoom and Iris, `target` Pan and Tilt): these are the desk's, all others ours. `safe`: all of it is ours while we believe, and the safe value is the desk's own level. `scale`: our intensity is a share of the desk's. Hazardous attributes are always ours.",
  });

const Slot = z.int().min(1).max(512);

export const SlotSignal = z
  .strictObject({
    slot: z.union([z.tuple([NameOf, Slot]), z.tuple([NameOf, Slot, Slot])]).meta({
      description:
        'A slot of the desk: the name of its universe under `desk`, and the slot, counted from 1. With a second slot it is 16 bits, the coarse one first. 0 to 1.',
    }),
    gone: Gone.optional().meta({
      description:
        'What it is when the desk is gone, in place of what its universe says: `hold`, `unknown`, or 0 to 1. Before the desk was ever heard `hold` is unknown.',
    }),
    ...shaping,
  })
  .meta({ title: 'slot signal' });

const people = z.union([NameOf, z.array(NameOf).min(1)]);
const slotOf = {
  slot: z.tuple([NameOf, Slot]).meta({
    description: 'The name of its universe under `desk`, and the slot, counted from 1.',
  }),
};
const Whom =
  'whom: performers, groups, or `everybody`. On the rise through a half: from a packet below to one above it.';
const held = z.boolean().default(false).meta({
  description:
    'It lasts while the slot is above a half, and the fall takes it back. When the desk is gone it stays as it is.',
});

/** Everybody, also those who belong to no performer. */
export const EVERYBODY = 'everybody';
export const CUE_NUMBER = 'number';

export const DeskOrder = z.union([
  z
    .strictObject({
      ...slotOf,
      cue: NameOf.meta({
        description:
          '`next` or `back` when it rises through 50 %, from a packet below to one above it; the name of a cue, the same; or `number`: the level is the number of a cue in their order, 1 to 255, and 0 is none. A number counts when it changes, so give the slot no fade.',
      }),
    })
    .meta({ title: 'cue by slot' }),
  z
    .strictObject({ ...slotOf, stop: people.meta({ description: `Stops ${Whom}` }), held })
    .meta({ title: 'stop by slot' }),
  z
    .strictObject({ ...slotOf, resume: people.meta({ description: `Resumes ${Whom}` }) })
    .meta({ title: 'resume by slot' }),
  z
    .strictObject({ ...slotOf, off: people.meta({ description: `Sends off stage ${Whom}` }), held })
    .meta({ title: 'off by slot' }),
  z
    .strictObject({ ...slotOf, on: people.meta({ description: `Takes back on stage ${Whom}` }) })
    .meta({ title: 'on by slot' }),
  z
    .strictObject({
      ...slotOf,
      enable: z.enum(ENABLED_CLASSES).meta({
        description:
          'Enables hazardous outputs of a class while it is above a half. It has to rise there: one that is up when the desk comes enables nothing. When the desk is gone, it is let go.',
      }),
    })
    .meta({ title: 'enable by slot' }),
]);

export const DeskOrders = z.array(DeskOrder).default([]).meta({
  description:
    'What slots of the desk order, as `lampwright tell` and OSC orders do: cues, stops, enables. A desk that is gone orders nothing, nor does one that comes in its first second.',
});

export type DeskOrderFile = z.output<typeof DeskOrder>;
export type DeskInputFile = z.output<typeof DeskInput>;
export type GroundFile = z.output<typeof Ground>;
