import { z } from 'zod';
import {
  DEFAULT_HEIGHT_M,
  DEFAULT_RANGING,
  RANGING_KINDS,
  WORN_BELOW_TOP_M,
} from '../../planning/options.js';
import { Extent, Point2, Point3 } from './parts.js';

/** The parts of the show file that plan the anchors. Descriptions are user-facing, as in schema.ts. */

/** What a performer's block says of the body that wears the tracker. */
export const wearerFields = {
  height: z.number().positive().max(3).default(DEFAULT_HEIGHT_M).meta({
    description: 'How tall they are in costume, metres; for `lampwright plan`.',
  }),
  wornAt: z
    .number()
    .min(0)
    .max(3)
    .optional()
    .meta({
      description: `Height of the tracker above the floor when they stand, metres; by default ${WORN_BELOW_TOP_M} below their \`height\`.`,
    }),
};

export const Anchor = z.strictObject({
  position: Point3.meta({ description: 'Where its antenna is, stage frame, metres.' }),
});

export const Obstacle = z.strictObject({
  box: z
    .strictObject({
      x: Extent.meta({ description: 'From and to, metres.' }),
      y: Extent.meta({ description: 'From and to, metres.' }),
      z: Extent.meta({ description: 'From and to, metres.' }),
    })
    .optional()
    .meta({ description: 'A box along the stage axes. An obstacle is a box or a cylinder.' }),
  cylinder: z
    .strictObject({
      centre: Point2.meta({ description: 'x and y, metres.' }),
      radius: z.number().positive().max(1000).meta({ description: 'Metres.' }),
      z: Extent.meta({ description: 'From and to, metres.' }),
    })
    .optional()
    .meta({ description: 'An upright cylinder.' }),
});

export const Ranging = z
  .strictObject({
    by: z.enum(RANGING_KINDS).default(DEFAULT_RANGING.by).meta({
      description:
        'What the tracking system measures: `range` (times of flight there and back) or `time-difference` (differences of times of arrival).',
    }),
    error: z.number().positive().max(10).default(DEFAULT_RANGING.errorM).meta({
      description:
        'Standard deviation of one range, or of one time of arrival times the speed of light, metres.',
    }),
  })
  .prefault({})
  .meta({
    description:
      'What the tracking system measures between a tracker and an anchor, and how well. For `lampwright plan`.',
  });

export type ObstacleFile = z.output<typeof Obstacle>;
