import { z } from 'zod';
import { Label, NameOf, Point2, Point3, Range } from './parts.js';

/** Parts of the stage and of the room. Descriptions are user-facing, as in schema.ts. */

const Radius = z.number().positive().max(1000).meta({ description: 'Metres.' });
const Circle = z.strictObject({
  centre: Point2.meta({ description: 'x and y, metres.' }),
  radius: Radius,
});
const CircleAround = z.strictObject({
  around: NameOf.meta({
    description: 'In place of `centre`: a performer with whom the circle moves.',
  }),
  radius: Radius,
});

/** A part of the stage: a circle or a polygon, between two heights. */
const area = {
  circle: Circle.optional().meta({
    description: 'A circle on the floor plan. It has a circle or a polygon.',
  }),
  polygon: z
    .array(Point2)
    .min(3)
    .max(256)
    .optional()
    .meta({ description: 'Corners on the floor plan, in order, either way round.' }),
  height: Range.optional().meta({
    description: 'From and to, metres; every height where it is left out.',
  }),
};

export const Zone = z.strictObject({
  label: Label.optional(),
  ...area,
  circle: z.union([Circle, CircleAround]).optional().meta({
    description:
      'A circle on the floor plan, which may move with somebody. A zone has a circle or a polygon.',
  }),
  feather: z.number().min(0).max(100).default(0.3).meta({
    description:
      'Width of the border outside of the edge over which presence falls from 1 to 0, metres.',
  }),
  hysteresis: z.number().min(0).max(10).default(0.1).meta({
    description: 'Movement smaller than this leaves the presence as it is, metres.',
  }),
});

export const Exit = z.strictObject({ label: Label.optional(), ...area });

export const KeepOut = z
  .strictObject({
    label: Label.optional(),
    ...area,
    height: Range.optional().meta({
      description:
        'From and to, metres; from the floor up without end where it is left out. A floor hides nothing from a beam: draw a pit as its opening.',
    }),
    point: Point3.optional().meta({
      description: 'Instead of a circle or a polygon: the middle of a ball, metres.',
    }),
    radius: Radius.optional().meta({ description: 'Of the ball round `point`, metres.' }),
    fixtures: z.array(NameOf).min(1).optional().meta({
      description:
        'Names of the heads that it concerns, or of groups of them; all that have a position where it is left out.',
    }),
  })
  .meta({
    description: 'It has a circle, a polygon or a point.',
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
