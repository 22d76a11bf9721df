import { z } from 'zod';
import { EngineSchema } from './engine-schema.js';
import { StageSchema } from './stage-schema.js';
import { StatusSchema } from './status-schema.js';
import { EVENT_LEVELS, LIVE_VERSION } from './version.js';

/** Of one snapshot, the levels of one universe as they leave, after all limits. */
const UniverseSchema = z.object({
  universe: z.number().describe('Universe number in the show file.'),
  levels: z.string().describe('512 levels, base64.'),
});

export const SnapshotSchema = z.object({
  kind: z.literal('snapshot'),
  version: z.literal(LIVE_VERSION),
  sequence: z.number().describe('Number of this snapshot, counted since the daemon started.'),
  revision: z.number().describe('Revision of the `stage` that it belongs to.'),
  atS: z.number().describe('When it was made, Unix time in seconds.'),
  status: StatusSchema,
  engine: EngineSchema.nullable().describe(
    'null: no engine runs, or it has not sent anything yet.',
  ),
  sent: z
    .array(z.number().nullable())
    .optional()
    .describe(
      'Intensity that is sent of each fixture, per cent, in the order of the stage: what leaves, whether the engine or the supervisor fades it. null: it has none, or no slot of its own for it.',
    ),
  universes: z
    .array(UniverseSchema)
    .optional()
    .describe('Levels that are sent, slot by slot. Only twice a second, not in every snapshot.'),
});
export type LiveSnapshot = z.infer<typeof SnapshotSchema>;

export const EventSchema = z.object({
  kind: z.literal('event'),
  atS: z.number().describe('Unix time in seconds.'),
  level: z.enum(EVENT_LEVELS),
  text: z.string().describe('Text, as in the log.'),
  what: z.string().describe('Kind of event, as in the log.'),
  times: z
    .number()
    .optional()
    .describe('How often it happened, for events from before the connection. Missing: once.'),
  firstS: z.number().optional().describe('When it first happened, if `times` is given.'),
});
export type LiveEvent = z.infer<typeof EventSchema>;

/** Any line of the stream. */
export const LineSchema = z.discriminatedUnion('kind', [StageSchema, SnapshotSchema, EventSchema]);
export type LiveLine = z.infer<typeof LineSchema>;

/** What `GET /api/snapshot` of the panel gives: all of it at once. */
export const PictureSchema = z.object({
  stage: StageSchema,
  snapshot: SnapshotSchema,
  events: z.array(EventSchema).describe('Events of the last ten minutes, oldest first.'),
});

/** The schema file for programs that read the stream. */
export function liveJsonSchema(): unknown {
  return {
    ...z.toJSONSchema(LineSchema, { io: 'input', target: 'draft-2020-12' }),
    title: 'A line of the snapshot stream of lampwright',
  };
}
