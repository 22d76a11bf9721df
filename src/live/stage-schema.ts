import { z } from 'zod';

const Named = { name: z.string(), label: z.string().describe('What people call it.') };
const Point = z.tuple([z.number(), z.number()]).describe('x and y, metres.');

export const OutlineSchema = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('circle'), centre: Point, radiusM: z.number() }),
  z.object({ kind: z.literal('polygon'), points: z.array(Point) }),
]);
export type Outline = z.infer<typeof OutlineSchema>;

const ChannelSchema = z.object({
  attribute: z.string().describe('GDTF attribute name.'),
  safe: z
    .array(z.number())
    .describe('Its safe value in each cue; a single one if the show has no cues.'),
  intensity: z.literal(true).optional(),
  hazard: z.string().optional().describe('Its hazard class. Missing: it is not hazardous.'),
  safeFromDesk: z
    .literal(true)
    .optional()
    .describe("Its safe value is the desk's level (`ground: safe`): the engine says what that is."),
});

/** What stays the same while a show runs: the stage and what is on it. Sent first, and again after a reload. */
export const StageSchema = z.object({
  kind: z.literal('stage'),
  version: z.number(),
  revision: z.number(),
  show: z.string(),
  bounds: z
    .object({ x: Point, y: Point })
    .describe('In the stage frame: x to stage left, y upstage.'),
  performers: z.array(z.object({ ...Named, heightM: z.number() })),
  zones: z.array(
    z.object({
      ...Named,
      outline: OutlineSchema,
      around: z
        .string()
        .optional()
        .describe('The performer with whom it moves; its centre is then 0, 0.'),
    }),
  ),
  exits: z.array(z.object({ ...Named, outline: OutlineSchema })),
  keepOuts: z.array(z.object({ ...Named, outline: OutlineSchema })),
  anchors: z.array(z.object({ name: z.string(), at: Point })),
  fixtures: z.array(
    z.object({
      ...Named,
      patch: z.string().describe('Universe and first slot: 1/101.'),
      universe: z.number(),
      firstSlot: z.number().describe('From 1.'),
      slots: z.number(),
      at: Point.optional(),
      isHead: z.boolean(),
      hazards: z
        .array(z.string())
        .optional()
        .describe('Hazard classes whose enable it needs. Missing: none.'),
      channels: z.array(ChannelSchema),
    }),
  ),
  mappings: z.array(z.object({ title: z.string().describe('Its name, or what drives it.') })),
  cues: z.array(z.object(Named)),
  hazards: z.array(z.string()).describe('Hazard classes that can be enabled.'),
  enableTimeoutS: z
    .number()
    .optional()
    .describe('An enable that is not repeated within this time is released.'),
});
export type LiveStage = z.infer<typeof StageSchema>;
