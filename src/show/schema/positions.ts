import { z } from 'zod';
import { POSITION_OUT_ROLES } from '../../protocols/osc/position-out.js';
import { MAX_PSN_TRACKER } from '../../protocols/psn/layout.js';
import { Axes, NameOf, Unit } from './parts.js';

/** Positions for others: sound, video, another desk. */

/** Nobody needs more; and a tick is no shorter. */
export const MAX_POSITIONS_HZ = 60;

const common = {
  to: NameOf.meta({ description: 'Which of the `receivers` to send to.' }),
  rate: z.number().min(1).max(MAX_POSITIONS_HZ).default(30).meta({
    description:
      'How often each position is sent, times a second. At most once a tick, which is as often as the fastest output sends.',
  }),
  ahead: z.number().min(0).max(0.5).default(0).meta({
    description:
      'How far ahead the positions are predicted, seconds after they are sent: as long as the receiver takes until its result is heard or seen.',
  }),
  performers: z.array(NameOf).min(1).optional().meta({
    description: 'Whose positions; by default everybody.',
  }),
  ids: z.record(NameOf, z.int().min(0).max(MAX_PSN_TRACKER)).default({}).meta({
    description:
      'Numbers of performers, by name. Performers that are not named get the lowest free numbers from 1 up, in the order of the show.',
  }),
};

const OscPositions = z.strictObject({
  protocol: z.literal('osc').meta({ description: 'OSC 1.0 over UDP, one message per performer.' }),
  ...common,
  address: z.string().min(2).max(200).meta({
    description:
      'OSC address; `{performer}` stands for the name of the performer, `{id}` for the number.',
  }),
  arguments: z
    .array(z.enum(POSITION_OUT_ROLES))
    .min(1)
    .max(16)
    .default(['x', 'y', 'z', 'confidence'])
    .meta({
      description:
        'Arguments of the message, in order. `x`, `y`, `z`, their velocities `vx`, `vy`, `vz` and `speed` as float32; `confidence` 0 to 1, 0 for a performer who is not tracked; `tracked` 1 or 0; `state` as text: `tracked`, `lost`, `off stage` or `not heard`; `performer` (name), `label` and `id`. One of `confidence`, `tracked` and `state` is required, so that the receiver can tell who is lost.',
    }),
  unit: Unit,
  axes: Axes.default(['x', 'y', 'z']).meta({
    description: 'Which stage axis is sent as x, y and z, each with its sign.',
  }),
  bundle: z.boolean().default(false).meta({
    description: 'Sends all performers in one OSC bundle instead of a message each.',
  }),
});

const PsnPositions = z.strictObject({
  protocol: z.literal('psn').meta({
    description:
      'PosiStageNet 2.03: position, speed, validity (the confidence) and timestamp; once a second the labels of the performers.',
  }),
  ...common,
  axes: Axes.meta({
    description:
      'Which stage axis is sent as x, y and z: `[x, z, y]` for x to stage left, y up and z upstage.',
  }),
});

export const Positions = z.discriminatedUnion('protocol', [OscPositions, PsnPositions]);
export type PositionsFile = z.output<typeof Positions>;
