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
    description: 'Address or name of the interface to send from.',
  }),
});

export const Action = z
  .strictObject({
    condition: NameOf.optional().meta({
      description: 'The condition. An action has a condition or a cue.',
    }),
    cue: NameOf.optional().meta({ description: 'The cue.' }),
    on: z.enum(['enter', 'leave']).default('enter').meta({
      description:
        '`enter`: when the condition changes from no to yes (not from unknown to yes), or the cue comes on. `leave`: when the condition or cue ends, if it had been entered; also if the engine was restarted in between.',
    }),
    send: NameOf.meta({ description: 'Which of the `receivers` to send to.' }),
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
          'Arguments of the message: whole numbers go as int32, others as float32; text, true and false as they are.',
      }),
  })
  .meta({
    description:
      'An OSC message that is sent when a condition or a cue is entered or left. At most ten a second for each; the rest are dropped and counted.',
  });

export type ActionFile = z.output<typeof Action>;
