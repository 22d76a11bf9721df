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
      'Value of its slots when the desk is gone: `hold`, their last values; a number from 0 to 1; or `unknown`, and whatever depends on them goes to its safe values.',
  }),
  ground: z.int().min(0).max(63999).optional().meta({
    description:
      'Universe of the show that lies on top of this one: slots without a fixture of the show pass as the desk sends them, and fixtures take from it what their `ground` says.',
  }),
  fade: Seconds.default(DESK_FADE_S).meta({
    description:
      'Fade of what passes to the value of `gone`, and back when the desk is heard again, seconds.',
  }),
});

export const Desk = z.record(Name, DeskInput).default({}).meta({
  description: 'Universes that are received from a desk, by name: control slots, or a ground.',
});

const Attributes = z.array(NameOf).min(1).max(64);

export const Ground = z
  .union([
    z.enum(['safe', 'scale']),
    Attributes,
    z.strictObject({
      desk: Attributes.optional().meta({
        description: 'Attributes that the desk controls: its levels pass unchanged.',
      }),
      safe: Attributes.optional().meta({
        description:
          "Attributes that we control while the tracking is trusted; their safe value is the desk's level.",
      }),
      scale: Attributes.optional().meta({
        description: "Attributes for which our value scales the desk's: `[Dimmer]`.",
      }),
    }),
  ])
  .meta({
    description:
      "What the fixture takes from the desk's levels at its own slots, if its universe has a `ground`. A list of attributes (`colour` is all that makes its colour, `beam` is Zoom and Iris, `target` is Pan and Tilt): the desk controls these, and we control all others. `safe`: we control all of it while the tracking is trusted, and the safe value is the desk's level. `scale`: our intensity scales the desk's. Hazardous attributes are always ours.",
  });

const Slot = z.int().min(1).max(512);

export const SlotSignal = z
  .strictObject({
    slot: z.union([z.tuple([NameOf, Slot]), z.tuple([NameOf, Slot, Slot])]).meta({
      description:
        'A slot of the desk, as 0 to 1: the name of its universe under `desk`, and the slot, counted from 1. With a second slot it is 16 bits, coarse first.',
    }),
    gone: Gone.optional().meta({
      description:
        'Value when the desk is gone, instead of that of its universe: `hold`, `unknown`, or 0 to 1. With `hold` it is unknown until the desk has been heard once.',
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
  'these performers or groups, or `everybody`, when the slot rises through 50 %: from a packet below it to one above it.';
const held = z.boolean().default(false).meta({
  description:
    'Lasts while the slot is above 50 %; the order is taken back when it falls. If the desk is gone, it stays as it is.',
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
          '`next`, `back` or the name of a cue: taken when the slot rises through 50 %, from a packet below it to one above it. Or `number`: the level is the number of a cue in their order, 1 to 255; 0 is none. A number counts when it changes, so the slot must not fade.',
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
    .strictObject({ ...slotOf, off: people.meta({ description: `Off stage for ${Whom}` }), held })
    .meta({ title: 'off by slot' }),
  z
    .strictObject({ ...slotOf, on: people.meta({ description: `Back on stage for ${Whom}` }) })
    .meta({ title: 'on by slot' }),
  z
    .strictObject({
      ...slotOf,
      enable: z.enum(ENABLED_CLASSES).meta({
        description:
          'Enables the hazardous outputs of a class while the slot is above 50 %. It has to rise: a slot that is already up when the desk is first heard enables nothing. If the desk is gone, the enable is released.',
      }),
    })
    .meta({ title: 'enable by slot' }),
]);

export const DeskOrders = z.array(DeskOrder).default([]).meta({
  description:
    'Orders that slots of the desk give, as `lampwright tell` and OSC do: cues, stops, enables. A desk gives no orders while it is gone, nor in the first second after it is heard.',
});

export type DeskOrderFile = z.output<typeof DeskOrder>;
export type DeskInputFile = z.output<typeof DeskInput>;
export type GroundFile = z.output<typeof Ground>;
