import { z } from 'zod';
import { Label, Metres, NameOf, Point2 } from '../../show/schema/parts.js';
import { DEFAULT_SENSOR } from '../sensors/sensor.js';

/** Seconds from the start of a scene, which may be as long as a day. */
const Moment = z.number().min(0).max(86_400);

/**
 * The scene file: who walks where and when, how the tracking system measures it, and what fails. Metres and
 * seconds throughout, in the stage frame of the show that it is rehearsed with.
 */

/** Version of the scene file that is written and read today. */
export const SCENE_FORMAT_VERSION = 1;

/** An ordinary day: the usual noise and outliers, but no dropouts except those that the scene has. */
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
      description: `Correlation time of the wandering part, seconds (${d.noiseMemoryS}).`,
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
      description: `How many outliers follow each other, on average (${d.outlierRun}).`,
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
      description: `Random gaps in the reports, times a second (${d.dropoutsPerS}).`,
    }),
  longestDropout: z
    .number()
    .min(0.1)
    .max(60)
    .optional()
    .meta({
      description: `The longest such gap, seconds (${d.dropoutMaxS}).`,
    }),
  shadow: z
    .number()
    .min(0)
    .max(2)
    .optional()
    .meta({
      description: `How far the performer's own body shifts the position, metres (${d.shadowM}).`,
    }),
  anchors: z.boolean().optional().meta({
    description:
      "`true`: positions are computed from simulated ranges to the show's `anchors`, as `ranging` says, past `obstacles` and the performer's own body, with the tracker on the back. A blocked anchor is measured too far or not at all, in bursts that depend on where performers are and which way they face. `noise` then applies to the height only; `outliers`, `dropouts` and `shadow` are not used (false).",
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
  to: Moment.meta({ description: 'Until when, seconds.' }),
  as: z.enum(LOSS_KINDS).default('silent').meta({
    description:
      'What the tracker does: `silent`: it sends nothing; `frozen`: it repeats its last report; `elsewhere`: it reports a place that is off by `by`.',
  }),
  by: Point2.default([3, 0]).meta({
    description: 'How far off `elsewhere` is, to stage left and upstage, metres.',
  }),
  tracker: z
    .union([z.string(), z.int()])
    .transform(String)
    .optional()
    .meta({ description: 'Which of their trackers; by default all that they wear.' }),
});

const Place = z.union([Point2, NameOf]);

const Mark = z.strictObject({
  at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
  place: Place.meta({
    description:
      '`[x, y]` in the stage frame, metres; or the name of a zone or an exit, for its middle.',
  }),
});

const ScenePerformer = z.strictObject({
  tracker: z.union([z.string(), z.int()]).transform(String).optional().meta({
    description:
      'The one tracker that they wear; by default all that the show gives them. With a `motion` that has measured positions, the tracker that reports them; by default the first.',
  }),
  height: z.number().min(-5).max(10).default(1.5).meta({
    description: 'Height above the floor of the point that is followed, metres; for `path`.',
  }),
  path: z.array(Mark).min(1).max(10_000).optional().meta({
    description:
      'Where they are at which time, in order of time. Between two marks they walk, and start and stop gently; before the first and after the last they stand.',
  }),
  motion: z.string().min(1).optional().meta({
    description:
      'A recording to use instead of `path`: a CSV file as `lampwright assess` reads it, in the folder of the scene file. If it has measured positions (mx, my, mz), these are reported and no sensor is simulated.',
  }),
  id: z.union([z.string(), z.int()]).transform(String).optional().meta({
    description: 'Which lines of `motion` to use, if it has an `id` column.',
  }),
  start: Moment.default(0).meta({
    description: 'When `motion` starts, seconds from the start of the scene.',
  }),
  move: Point2.default([0, 0]).meta({
    description: 'Added to the positions of `motion`, metres.',
  }),
  sensor: Sensor.default({}).meta({ description: 'What differs from the `sensor` of the scene.' }),
  losses: z.array(Loss).max(1000).default([]).meta({ description: 'Faults of their trackers.' }),
});

export const SceneFileSchema = z.strictObject({
  lampwright: z.literal(SCENE_FORMAT_VERSION).meta({ description: 'Version of the format.' }),
  scene: Label.meta({ description: 'What the scene is called.' }),
  length: z.number().min(0.1).max(86_400).meta({ description: 'How long it takes, seconds.' }),
  seed: z.int().min(0).max(1_000_000).default(1).meta({
    description: 'Seed of the simulated sensors: another seed gives other noise.',
  }),
  sensor: Sensor.default({}).meta({ description: 'The tracking system, for everybody.' }),
  losses: z
    .array(
      z.strictObject({
        from: Moment.meta({ description: 'Seconds from the start of the scene.' }),
        to: Moment.meta({ description: 'Until when, seconds.' }),
      }),
    )
    .max(1000)
    .default([])
    .meta({ description: 'Times at which no tracker is heard.' }),
  cues: z
    .array(
      z.strictObject({
        at: Moment.meta({ description: 'Seconds from the start of the scene.' }),
        cue: NameOf.meta({
          description: 'The cue to go to: its name, `next` or `back`.',
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
          description: 'A performer to set off stage, or `everybody`.',
        }),
        on: NameOf.optional().meta({
          description: 'A performer to set on stage again, or `everybody`.',
        }),
        pin: z.tuple([NameOf, NameOf]).optional().meta({
          description:
            'A head that chooses whom it follows, and the performer to pin it to: `[front-1, mara]`.',
        }),
        unpin: NameOf.optional().meta({
          description: 'A head to unpin: it chooses by itself again.',
        }),
      }),
    )
    .max(1000)
    .default([])
    .meta({
      description:
        'Orders, as with `lampwright tell`: performers off stage and on again, heads pinned and unpinned. In order of time; one of `off`, `on`, `pin` and `unpin` in each.',
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
                'What its sender sends from then on, ten times a second, in its own unit; or `silent`.',
            }),
          }),
        )
        .min(1)
        .max(10_000),
    )
    .default({})
    .meta({
      description:
        'Numbers that arrive by OSC, by the name of their signal, in order of time. Signals that are not named get nothing.',
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
                  'Levels from then on, 0 to 255, by slot: `{ 4: 255 }`. Other slots keep their level, 0 at first.',
              }),
            gone: z.boolean().default(false).meta({
              description: 'From then on the desk sends nothing.',
            }),
          }),
        )
        .min(1)
        .max(10_000),
    )
    .default({})
    .meta({
      description:
        'What a desk sends, by the names of its universes under `desk` in the show, in order of time. It starts with its first entry, and gives no orders in its first second. Universes that are not named get nothing.',
    }),
  performers: z.record(NameOf, ScenePerformer).meta({
    description:
      'Performers, by their names in the show. Performers that are not named are never heard.',
  }),
});

export type SceneFile = z.infer<typeof SceneFileSchema>;
