import { z } from 'zod';
import { Extent, Label, NameOf, Point2, Point3 } from './parts.js';

/** Parts of the stage and of the room. Descriptions are user-facing, as in schema.ts. */

const Radius = z.number().positive().max(1000).meta({ description: 'Metres.' });
const Circle = z.strictObject({
  centre: Point2.meta({ description: 'x and y, metres.' }),
  radius: Radius,
});
const CircleAround = z.strictObject({
  around: NameOf.meta({
    description: 'Instead of `centre`: a performer; the circle moves with them.',
  }),
  radius: Radius,
});

/** A part of the stage: a circle or a polygon, between two heights. */
const area = {
  circle: Circle.optional().meta({
    description: 'A circle on the floor plan. Give a circle or a polygon.',
  }),
  polygon: z
    .array(Point2)
    .min(3)
    .max(256)
    .optional()
    .meta({ description: 'Corners on the floor plan, in order, clockwise or anticlockwise.' }),
  height: Extent.optional().meta({
    description: 'From and to, metres; by default every height.',
  }),
};

export const Zone = z.strictObject({
  label: Label.optional(),
  ...area,
  circle: z.union([Circle, CircleAround]).optional().meta({
    description:
      'A circle on the floor plan, which may move with a performer. A zone is a circle or a polygon.',
  }),
  feather: z.number().min(0).max(100).default(0.3).meta({
    description:
      'Width of the border outside the edge, in which presence falls from 1 to 0, metres.',
  }),
  hysteresis: z.number().min(0).max(10).default(0.1).meta({
    description: 'Movements smaller than this do not change the presence, metres.',
  }),
});

export const Exit = z.strictObject({ label: Label.optional(), ...area });

export const KeepOut = z
  .strictObject({
    label: Label.optional(),
    ...area,
    height: Extent.optional().meta({
      description:
        'From and to, metres; by default from the floor up without limit. A beam is not taken to end at the floor: draw a pit as its opening.',
    }),
    point: Point3.optional().meta({
      description: 'Instead of a circle or a polygon: the centre of a sphere, metres.',
    }),
    radius: Radius.optional().meta({ description: 'Radius of the sphere round `point`, metres.' }),
    fixtures: z.array(NameOf).min(1).optional().meta({
      description:
        'Names of the heads that must keep out, or of groups of them; by default all that have a position.',
    }),
  })
  .meta({
    description: 'A keep-out is a circle, a polygon or a point with a radius.',
    examples: [
      {
        polygon: [
          [-2, -8],
          [12, -8],
          [12, -1.5],
          [-2, -1.5],
        ],
        height: [0, 2.4],
      },
    ],
  });
