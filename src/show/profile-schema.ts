import { z } from 'zod';
import { PHYSICAL_UNITS } from '../fixtures/attributes.js';
import { HazardKey } from './safety-schema.js';
import { Name, Range } from './schema-parts.js';

const Angle = z.number().positive().max(180);

const Channel = z.strictObject({
  attribute: Name.meta({ description: 'GDTF attribute name: Dimmer, Pan, Tilt, ColorAdd_R ...' }),
  bits: z
    .union([z.literal(8), z.literal(16), z.literal(24)])
    .default(8)
    .meta({ description: 'Width: 8, 16 (coarse and fine) or 24, one slot for each 8.' }),
  slots: z.array(z.int().min(1).max(512)).min(1).max(3).optional().meta({
    description:
      "Which of the fixture's slots, counted from 1, coarse first; where left out, those after the channel above.",
  }),
  range: Range.optional().meta({
    description:
      'Physical values at the lowest and the highest level, in `unit`. [0, 100] where it is left out; required ' +
      'for other units than per cent. The first may be the larger: the channel is then inverted.',
  }),
  unit: z.enum(PHYSICAL_UNITS).optional().meta({
    description:
      'Unit of the physical values. Degrees for Pan, Tilt and Zoom, per cent for the rest, where left out.',
  }),
  default: z
    .number()
    .optional()
    .meta({
      description:
        'Physical value while nothing else is asked. Where left out: 0, or what is nearest to it; full for a ' +
        'colour of a fixture without a Dimmer, which gets a virtual one.',
    }),
  hazard: HazardKey.optional(),
  highlight: z.number().optional().meta({
    description:
      'Physical value that shows the beam while somebody looks for it: open, full, white.',
  }),
});

const Optics = z
  .strictObject({
    beamAngle: Angle.optional().meta({
      description:
        'Full angle between the directions of half the peak intensity, degrees; where the fixture has no Zoom.',
    }),
    fieldAngle: Angle.optional().meta({
      description: 'Full angle between the directions of a tenth of the peak intensity, degrees.',
    }),
    luminousFlux: z.number().positive().max(1e7).optional().meta({
      description: 'Of the whole beam at full, lumens.',
    }),
    beamRadius: z.number().min(0).max(10).optional().meta({
      description: 'Of the beam where it leaves the fixture, metres.',
    }),
  })
  .meta({ description: 'What comes out of the fixture, as its maker states it.' });

const Limit = z.strictObject({
  speed: z.number().positive().max(1e5).meta({
    description: 'Fastest movement, in the unit of the attribute per second (degrees/s).',
  }),
  acceleration: z.number().positive().max(1e7).optional().meta({
    description:
      'Fastest change of that, per second squared (degrees/s2); left out, it is at its speed at once.',
  }),
});

const Motion = z
  .strictObject({
    pan: Limit.optional().meta({ description: 'Limits of Pan.' }),
    tilt: Limit.optional().meta({ description: 'Limits of Tilt.' }),
    zoom: Limit.optional().meta({ description: 'Limits of Zoom.' }),
    iris: Limit.optional().meta({ description: 'Limits of Iris.' }),
    focus: Limit.optional().meta({ description: 'Limits of Focus1.' }),
  })
  .meta({ description: 'How fast it can move; measured, or as its maker states it.' });

export const Profile = z.strictObject({
  hazard: HazardKey.optional(),
  optics: Optics.optional(),
  motion: Motion.optional(),
  channels: z.array(Channel).min(1).max(512).meta({
    description: 'What its slots do, in the order of the slots.',
  }),
});

export type ProfileFile = z.output<typeof Profile>;
