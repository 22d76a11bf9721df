import { z } from 'zod';
import { Address4, Label, NameOf } from './parts.js';

/** OSC 1.0: parts of printable ASCII, without what a pattern or a bundle is made of. */
const OSC_ADDRESS = /^(?=[!-~]+$)(\/[^#*,/?[\]{}]+)+$/;
const INT32 = 2 ** 31;

export const Receiver = z.strictObject({
  label: Label.optional(),
  address: Address4.meta({
    description: 'Where it listens: its address, or a multicast group.',
  }),
  port: z.int().min(1).max(65535).meta({ description: 'UDP port.' }),
  interface: z.string().min(1).max(60).default('127.0.0.1').meta({
    description: 'Address or name of the interface of this machine from which it is sent.',
  }),
});

export const Action = z
  .strictObject({
    condition: NameOf.optional().meta({ description: 'The condition that is entered or left.' }),
    cue: NameOf.optional().meta({ description: 'Or the cue.' }),
    on: z.enum(['enter', 'leave']).default('enter').meta({
      description:
        '`enter`: a condition goes from no to yes, a cue comes on; from unknown to yes is none. `leave`: it is over, and it had been entered. What was entered before the engine died, or was started again, is left by the one after it.',
    }),
    send: NameOf.meta({ description: 'To which of the `receivers`.' }),
    address: z
      .string()
      .max(200)
      .regex(
        OSC_ADDRESS,
        'an OSC address: parts that begin with /, without spaces or # * , ? [ ] { }',
      )
      .meta({ description: 'OSC address.' }),
    arguments: z
      .array(
        z.union([
          z
            .number()
            .min(-INT32)
            .max(INT32 - 1),
          z.string().max(200),
          z.boolean(),
        ]),
      )
      .max(16)
      .default([])
      .meta({
        description:
          'What goes with it: whole numbers as int32, others as float32, text, true and false.',
      }),
  })
  .meta({
    description:
      'An OSC message when a condition or a cue is entered or left; at most ten a second of each, the rest is counted.',
  });

export type ActionFile = z.output<typeof Action>;
