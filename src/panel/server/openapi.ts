import { z } from 'zod';
import { MomentSchema } from '../../live/history.js';
import { PictureSchema } from '../../live/schema.js';
import { ActSchema, STREAM_RATES_HZ } from './act-schema.js';

const AnswerSchema = z.object({
  ok: z.boolean().describe('It is done, and kept.'),
  outcome: z.enum([
    'done',
    'already so',
    'refused',
    'overtaken',
    'incomplete',
    'not kept',
    'failed',
    'no daemon',
  ]),
  text: z.string().describe('The result, in a sentence.'),
  newest: z
    .number()
    .optional()
    .describe(
      'Of a stop: `sequence` of the newest snapshot when it came. A resume takes one that is newer.',
    ),
});
/** Of what is no request: each fault with what would be right. */
const FaultsSchema = z.object({
  ok: z.literal(false),
  outcome: z.literal('refused'),
  text: z.string().describe('All of them in a sentence.'),
  faults: z.array(z.string()).min(1).describe('What is wrong, and what would be right.'),
});
const RefusalSchema = z.object({
  ok: z.literal(false),
  text: z.string().describe('Why, and what would be right.'),
});
const DoorSchema = z.object({
  mayLook: z.boolean(),
  mayAct: z.boolean(),
  text: z.string().optional().describe('What is wrong with the token that was sent.'),
  ageS: z
    .number()
    .nullable()
    .optional()
    .describe('Of the newest snapshot, for whoever may look; null: none has come.'),
  daemon: z.string().optional().describe('Why none comes.'),
});
const HealthSchema = z.object({
  ok: z.boolean(),
  ageS: z.number().nullable().describe('Of the newest snapshot.'),
  fault: z.string().optional(),
});
const HistorySchema = z.object({
  moments: z.array(MomentSchema).describe('One a second, ten minutes.'),
});

const json = (schema: z.ZodType) => ({
  'application/json': {
    schema: z.toJSONSchema(schema, { io: 'input', target: 'draft-2020-12' }),
  },
});
const gives = (description: string, content: object) => ({ '200': { description, content } });
const refused = (description: string) => ({ description, content: json(RefusalSchema) });
/** Whoever comes by a wrong name, or from a wrong page. */
const STRANGE = {
  '403': refused('From a page of another origin.'),
  '421': refused('Not one of the names of this panel.'),
};
const REFUSED = {
  '401': refused('The token is missing or wrong.'),
  ...STRANGE,
  '429': refused('Wrong, and too many wrong tokens have come within a minute.'),
};
const text = (type: string) => ({ [type]: { schema: { type: 'string' } } });

/** What programs may ask of the panel (OpenAPI 3.1). */
export function openApi(): unknown {
  return {
    openapi: '3.1.0',
    info: {
      title: 'lampwright panel',
      version: '1',
      description:
        'Anybody may look from the machine itself. To act, or to look from elsewhere, you need the token: `lampwright panel STATE_DIR` prints it.',
      license: { name: 'MIT', identifier: 'MIT' },
    },
    servers: [{ url: '/' }],
    security: [{ token: [] }, {}],
    paths: {
      '/healthz': {
        get: {
          operationId: 'health',
          summary: 'Whether the daemon answers',
          responses: {
            ...gives('A snapshot came within 3 s.', json(HealthSchema)),
            '503': { description: 'None did.', content: json(HealthSchema) },
            ...REFUSED,
          },
        },
      },
      '/metrics': {
        get: {
          operationId: 'metrics',
          summary: 'For Prometheus',
          responses: { ...gives('Text.', text('text/plain')), ...REFUSED },
        },
      },
      '/api/snapshot': {
        get: {
          operationId: 'snapshot',
          summary: 'Stage, newest snapshot with slots, events of the last ten minutes',
          responses: {
            ...gives('All of it.', json(PictureSchema)),
            '503': refused('The daemon does not answer.'),
            ...REFUSED,
          },
        },
      },
      '/api/history': {
        get: {
          operationId: 'history',
          summary: 'Rates, confidence and delay of the last ten minutes',
          responses: { ...gives('One moment a second.', json(HistorySchema)), ...REFUSED },
        },
      },
      '/api/stream': {
        get: {
          operationId: 'stream',
          summary: 'The snapshot stream as server-sent events: stage, event, snapshot',
          parameters: [
            {
              name: 'rate',
              in: 'query',
              description: 'Snapshots a second.',
              schema: {
                type: 'number',
                minimum: STREAM_RATES_HZ.least,
                maximum: STREAM_RATES_HZ.most,
                default: STREAM_RATES_HZ.usual,
              },
            },
            {
              name: 'page',
              in: 'query',
              description:
                'Any name of whoever looks: a stream that begins anew takes the place of the one of that name and address, and not another one.',
              schema: { type: 'string', pattern: '^[\\w-]{1,64}$' },
            },
          ],
          responses: {
            ...gives('Until it is closed.', text('text/event-stream')),
            '400': {
              description: 'Not a query of it: each fault is named.',
              content: json(FaultsSchema),
            },
            '503': refused('Too many viewers are connected already.'),
            ...REFUSED,
          },
        },
      },
      '/api/door': {
        get: {
          operationId: 'door',
          summary: 'What the caller may do, with or without a token',
          responses: { ...gives('What they may.', json(DoorSchema)), ...STRANGE },
        },
      },
      '/api/openapi.json': {
        get: {
          operationId: 'description',
          summary: 'This description',
          responses: { ...gives('OpenAPI 3.1.', json(z.looseObject({}))), ...REFUSED },
        },
      },
      '/api/act': {
        post: {
          operationId: 'act',
          summary: 'Give an order',
          security: [{ token: [] }],
          requestBody: { required: true, content: json(ActSchema) },
          responses: {
            ...gives('It is so now.', json(AnswerSchema)),
            '400': {
              description: 'Not a request: each fault is named.',
              content: json(FaultsSchema),
            },
            '409': {
              description: 'Refused, too late, or it cannot be kept: the text says why.',
              content: json(AnswerSchema),
            },
            '413': refused('Too large.'),
            ...REFUSED,
          },
        },
      },
    },
    components: { securitySchemes: { token: { type: 'http', scheme: 'bearer' } } },
  };
}
