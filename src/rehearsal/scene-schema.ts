import { z } from 'zod';
import { Label, Metres, NameOf, Point2 } from '../show/schema/parts.js';
import { DEFAULT_SENSOR } from './sensor.js';

/** Of a scene, which may be as long as a day. */
const Moment = z.number().min(0).max(86_400);

/**
 * The scene file: who walks where and when, what their trackers make of it, and what fails. Metres and
 * seconds throughout, in the stage frame of the show that it is rehearsed with.
 */

/** Version of the scene file that is written and read today. */
export const SCENE_FORMAT_VERSION = 1;

/** Of an ordinary day: noise and outliers as ever, but nothing drops out that the scene does not say. */
export const SCENE_SENSOR = { ...DEFAULT_SENSOR, rateHz: 30, dropoutsPerS: 0 };

const d = SCENE_SENSOR;
const Sensor = z.strictObject({
  rate: z
    .number()
    .min(1)
    .max(200)
    .optional()
    .meta({
      description: `Reports a second (${d.rateHz}).`,
    }),
  noise: z
    .number()
    .min(0)
    .max(5)
    .optional()
    .meta({
      description: `Standard deviation of the ordinary noise along one axis, metres (${d.noiseM}).`,
    }),
  wander: z
    .number()
    .min(0)
    .max(1)
    .optional()
    .meta({
      description: `Share of the noise that wanders slowly; the rest is new in each report (${d.colouredShare}).`,
    }),
  memory: z
    .number()
    .min(0.01)
    .max(60)
    .optional()
    .meta({
      description: `How long the wandering part remembers, seconds (${d.noiseMemoryS}).`,
    }),
  outliers: z
    .number()
    .min(0)
    .max(0.5)
    .optional()
    .meta({
      description: `Share of the reports that are far off (${d.outlierShare}).`,
    }),
  outlierRun: z
    .number()
    .min(1)
    .max(200)
    .optional()
    .meta({
      description: `How many of them follow each other on average (${d.outlierRun}).`,
    }),
  outlierDistance: z
    .tuple([Metres.min(0), Metres.min(0)])
    .optional()
    .meta({
      description: `How far off they are, from and to, metres ([${d.outlierMinM}, ${d.outlierMaxM}]).`,
    }),
  dropouts: z
    .number()
    .min(0)
    .max(10)
    .optional()
    .meta({
      description: `Gaps a second that come by chance (${d.dropoutsPerS}).`,
    }),
  longestDropout: z
    .number()
    .min(0.1)
    .max(60)
    .optional()
    .meta({
      description: `The longest of them, seconds (${d.dropoutMaxS}).`,
    }),
  shadow: z
    .number()
    .min(0)
    .max(2)
    .optional()
    .meta({
      description: `How far the performer's own body pulls the position away, metres (${d.shadowM}).`,
    }),
  anchors: z.boolean().optional().meta({
    description:
      "`true`: positions are made of ranges to the show's `anchors`, as `ranging` has them, through `obstacles` and the performer's own body, the tracker on the back: what is hidden is measured too long, or not at all, in bursts that depend on where they are and which way they face. `noise` is then that of the height, and `outliers`, `dropouts` and `shadow` come of the anchors alone (false).",
  }),
  jitter: z
    .number()
    .min(0)
    .max(1)
    .optional()
    .meta({
      description: `Jitter of the reports in time, as a share of their interval (${d.timeJitter}).`,
    }),
  latency: z.number().min(0).max(5).optional().meta({
    description: 'Age of a report when it arrives, seconds (0.05).',
  }),
});

export const LOSS_KINDS = ['silent', 'frozen', 'elsewhere'] as const;

const Loss = z.strictObject({
  from: Moment.meta({ description: 'Seconds from the start of the scene.' }),
  to: Moment.meta({ description: 'And until when.' }),
  as: z.enum(LOSS_KINDS).default('silent').meta({
    description:
      'What the tracker does: `silent`, nothing is heard; `frozen`, its last report again and again; `elsewhere`, it reports a place that is off by `by`.',
  }),
  by: Point2.default([3, 0]).meta({
    description: 'How far off `elsewhere` is, to stage left and upstage, metres.',
  }),
  tracker: z
    .union([z.string(), z.int()])
    .transform(String)
    .optional()
    .meta({ description: 'Which of their trackers; all that they wear.' }),
});

const Place = z.union([Point2, NameOf]);

const Mark = z.strictObject({
  at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
  place: Place.meta({
    description:
      '`[x, y]` in the stage frame, metres; or the name of a zone or an exit: its middle.',
  }),
});

const ScenePerformer = z.strictObject({
  tracker: z.union([z.string(), z.int()]).transform(String).optional().meta({
    description:
      'The only one of their trackers that they wear; all that the show gives them. Of a `motion` with measured positions: whose they are, the first one.',
  }),
  height: z.number().min(-5).max(10).default(1.5).meta({
    description: 'Height of the place that is followed over the floor, metres; with `path`.',
  }),
  path: z.array(Mark).min(1).max(10_000).optional().meta({
    description:
      'Where they are when, times rising. Between two marks they go from one to the other, starting and stopping gently; before the first and after the last they stand.',
  }),
  motion: z.string().min(1).optional().meta({
    description:
      'A recording to take instead of `path`: a file of comma-separated values as `lampwright assess` reads it, beside the scene file. With measured positions (mx, my, mz) these are reported, and no sensor is simulated.',
  }),
  id: z.union([z.string(), z.int()]).transform(String).optional().meta({
    description: 'Whose lines of `motion` to take, where it has an `id` column.',
  }),
  start: Moment.default(0).meta({
    description: 'When the first line of `motion` is, seconds from the start of the scene.',
  }),
  move: Point2.default([0, 0]).meta({
    description: 'Added to the positions of `motion`, metres.',
  }),
  sensor: Sensor.default({}).meta({ description: 'Where it differs from that of the scene.' }),
  losses: z
    .array(Loss)
    .max(1000)
    .default([])
    .meta({ description: 'What their tracker does wrong.' }),
});

export const SceneFileSchema = z.strictObject({
  lampwright: z.literal(SCENE_FORMAT_VERSION).meta({ description: 'Version of the format.' }),
  scene: Label.meta({ description: 'What the scene is called.' }),
  length: z.number().min(0.1).max(86_400).meta({ description: 'How long it takes, seconds.' }),
  seed: z.int().min(0).max(1_000_000).default(1).meta({
    description: 'Of the simulated sensors: another seed is another evening.',
  }),
  sensor: Sensor.default({}).meta({ description: 'The tracking system as it is for everybody.' }),
  losses: z
    .array(
      z.strictObject({
        from: Moment.meta({ description: 'Seconds from the start of the scene.' }),
        to: Moment.meta({ description: 'And until when.' }),
      }),
    )
    .max(1000)
    .default([])
    .meta({ description: 'When nothing is heard of anybody.' }),
  cues: z
    .array(
      z.strictObject({
        at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
        cue: NameOf.meta({
          description: 'The cue of the show that is asked for then; `next` or `back` as well.',
        }),
      }),
    )
    .max(1000)
    .default([])
    .meta({ description: 'The cues, as an operator would give them.' }),
  orders: z
    .array(
      z.strictObject({
        at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
        off: NameOf.optional().meta({
          description: 'The performers to send off stage then; or `everybody`.',
        }),
        on: NameOf.optional().meta({
          description: 'Who is on stage after all; or `everybody`.',
        }),
        pin: z.tuple([NameOf, NameOf]).optional().meta({
          description:
            'A head that chooses whom it follows, and on whom it is from then on: `[front-1, mara]`.',
        }),
        unpin: NameOf.optional().meta({ description: 'The head that chooses by itself again.' }),
      }),
    )
    .max(1000)
    .default([])
    .meta({
      description:
        'Performers to send off stage, as with `lampwright tell STATE_DIR off NAME`, and to let on again; heads to pin to somebody, and to let go. Times rising, one of `off`, `on`, `pin` and `unpin` in each.',
    }),
  numbers: z
    .record(
      NameOf,
      z
        .array(
          z.strictObject({
            at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
            value: z.union([z.number(), z.literal('silent')]).meta({
              description:
                'What its sender says from then on, ten times a second, in its own unit; or `silent`.',
            }),
          }),
        )
        .min(1)
        .max(10_000),
    )
    .default({})
    .meta({
      description:
        'Numbers by OSC, by the name of their signal: what comes in when, times rising. One that is not named is never heard.',
    }),
  desk: z
    .record(
      NameOf,
      z
        .array(
          z.strictObject({
            at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
            slots: z
              .record(
                z.string().regex(/^([1-9]\d?|[1-4]\d\d|50\d|51[0-2])$/, 'a slot from 1 to 512'),
                z.int().min(0).max(255),
              )
              .default({})
              .meta({
                description:
                  'Levels from then on, 0 to 255, by their slot: `{ 4: 255 }`. The others stay; before the first they are 0.',
              }),
            gone: z.boolean().default(false).meta({
              description: 'The desk is not heard any more from then on.',
            }),
          }),
        )
        .min(1)
        .max(10_000),
    )
    .default({})
    .meta({
      description:
        'What a desk says, by the names of its universes under `desk` in the show; times rising. It is there from its first entry on, and orders nothing in its first second. One that is not named is never heard.',
    }),
  performers: z.record(NameOf, ScenePerformer).meta({
    description: 'By the names that they have in the show. Who is not named is never heard.',
  }),
});

export type SceneFile = z.infer<typeof SceneFileSchema>;
