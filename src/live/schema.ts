import { z } from 'zod';
import { EngineSchema } from './engine-schema.js';
import { StageSchema } from './stage-schema.js';
import { StatusSchema } from './status-schema.js';
import { EVENT_LEVELS, LIVE_VERSION } from './version.js';

/** Of one snapshot, the levels of one universe as they leave, after all limits. */
const UniverseSchema = z.object({
  universe: z.number().describe('As the show file numbers it.'),
  levels: z.string().describe('512 levels, base64.'),
});

export const SnapshotSchema = z.object({
  kind: z.literal('snapshot'),
  version: z.literal(LIVE_VERSION),
  sequence: z.number().describe('Counts the snapshots that this daemon has made.'),
  revision: z.number().describe('Of the stage that it belongs to: another number, another stage.'),
  atS: z.number().describe('When it was made, Unix time in seconds.'),
  status: StatusSchema,
  engine: EngineSchema.nullable().describe(
    'null: no engine runs, or it has not sent anything yet.',
  ),
  universes: z
    .array(UniverseSchema)
    .optional()
    .describe('What leaves, slot by slot. Not in each snapshot: twice a second.'),
});
export type LiveSnapshot = z.infer<typeof SnapshotSchema>;

export const EventSchema = z.object({
  kind: z.literal('event'),
  atS: z.number().describe('Unix time in seconds.'),
  level: z.enum(EVENT_LEVELS),
  text: z.string().describe('As the log tells it.'),
  what: z.string().describe('What kind of event the log calls it.'),
  times: z
    .number()
    .optional()
    .describe(
      'How often it has been so, where it is told of the ten minutes before; missing: once.',
    ),
  firstS: z.number().optional().describe('When it was so first, of one with `times`.'),
});
export type LiveEvent = z.infer<typeof EventSchema>;

/** Any line of the stream. */
export const LineSchema = z.discriminatedUnion('kind', [StageSchema, SnapshotSchema, EventSchema]);
export type LiveLine = z.infer<typeof LineSchema>;

/** What `GET /api/snapshot` of the panel gives: all of it at once. */
export const PictureSchema = z.object({
  stage: StageSchema,
  snapshot: SnapshotSchema,
  events: z.array(EventSchema).describe('Of the last ten minutes, oldest first.'),
});

/** The schema file for programs that read the stream. */
export function liveJsonSchema(): unknown {
  return {
    ...z.toJSONSchema(LineSchema, { io: 'input', target: 'draft-2020-12' }),
    title: 'A line of the snapshot stream of lampwright',
  };
}
