import { z } from 'zod';
import { SIGNED_AXES } from '../../protocols/axes.js';
import { DEFAULT_OSC_LIMITS, MAX_DATAGRAM_BYTES } from '../../protocols/osc/decode.js';
import { PSN_GROUP, PSN_MAX_BYTES, PSN_PORT } from '../../protocols/psn/layout.js';
import { PSN_STAMPS } from '../../protocols/psn/position.js';
import { printable } from '../../stage/printable.js';

import { FORMAT_VERSION } from '../problems/format.js';
import { Action, Receiver } from './actions.js';
import { Anchor, Obstacle, Ranging } from './anchors.js';
import { Exit, KeepOut, Zone } from './areas.js';
import { Cue } from './cues.js';
import { Desk, DeskOrders, Ground } from './desk.js';
import { Look } from './look.js';
import { Mapping, Masters } from './mappings.js';
import { Output } from './outputs.js';
import { Palettes } from './palettes.js';
import { Address4, Degrees, Label, Name, Point3, Range, Seconds } from './parts.js';
import { Positions } from './positions.js';
import { ProfileEntry } from './profile.js';
import { HazardKey, Limits, Operator, Watchdog } from './safety.js';
import { Conditions, Groups, Signals } from './signals.js';
import { Performer, Tracker, Tracking } from './tracking.js';

/**
 * The show file as it is written: one schema gives types, defaults, validation, the JSON Schema for
 * editors and the reference page. Metres, seconds, degrees and per cent throughout.
 *
 * Descriptions are user-facing: they become the reference page.
 */

const Stage = z
  .strictObject({
    x: Range.meta({ description: 'From stage right to stage left, metres: `[from, to]`.' }),
    y: Range.meta({ description: 'From downstage to upstage, metres.' }),
    z: Range.default([-0.5, 3]).meta({
      description: 'From the lowest to the highest place a tracker can be, metres.',
    }),
  })
  .meta({
    description:
      'Where performers can be, in the stage frame: metres, x to stage left, y upstage, z up.',
  });

export const ARGUMENT_NAMES = [
  'x', 'y', 'z', 'quality', 'battery', 'stamp', 'tracker', 'ignore',
  'x?', 'y?', 'z?', 'quality?', 'battery?', 'stamp?', 'ignore?',
] as const; // biome-ignore format: one row for the required, one for the optional

export const UNITS = { m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, in: 0.0254 } as const;
const UNIT_NAMES = ['m', 'cm', 'mm', 'ft', 'in'] as const satisfies readonly (keyof typeof UNITS)[];

const Axes = z.tuple([z.enum(SIGNED_AXES), z.enum(SIGNED_AXES), z.enum(SIGNED_AXES)]);

const QualityScale = Range.meta({
  description:
    'What the feed gives as quality at its worst and at its best: `[0, 100]` for per cent, `[3, 0]` for an error in metres that counts as nothing from 3 on.',
});

const Route = z
  .strictObject({
    address: z.string().meta({
      description:
        'OSC address; `{tracker}` stands for the name of the tracker: a part of the address, or in one, as in `/tracker{tracker}/position`.',
    }),
    arguments: z
      .array(z.enum(ARGUMENT_NAMES))
      .min(1)
      .optional()
      .meta({
        description:
          'What the arguments are, in order (`[x, y, z, quality?]`; with `each`, none). A `?` marks those at the end that may be missing; ' +
          '`tracker` is for feeds that name the tracker in an argument; `quality` is 0 to 1, or as `quality` says; `battery` is the charge ' +
          'left, 0 to 1, and is shown and checked before the doors; `stamp` is when ' +
          'the position was measured, by the clock of the tracking system, which is followed: seconds as ' +
          'float or (better) double, microseconds as int64, or an OSC time tag. ' +
          'With fewer than two of x, y and z it is a part of a position: an axis, or the quality, in a message of its own. ' +
          'Such routes make positions together.',
      }),
    each: z.array(z.enum(ARGUMENT_NAMES)).min(3).optional().meta({
      description:
        'For several trackers in one message: what comes again and again after `arguments`, for one tracker after the other, as in `[tracker, x, y, z]`.',
    }),
    unit: z.enum(UNIT_NAMES).default('m').meta({ description: 'Unit of the coordinates.' }),
    axes: Axes.default(['x', 'y', 'z']).meta({
      description:
        'Which axis of the feed is stage x, y and z, each with its sign: `[x, -z, y]` for a feed ' +
        'with y up and z towards the audience.',
    }),
    box: z
      .strictObject({
        x: Range.optional().meta({ description: 'Where 0 and 1 of x lie.' }),
        y: Range.optional().meta({ description: 'Where 0 and 1 of y lie.' }),
        z: Range.optional().meta({ description: 'Where 0 and 1 of z lie.' }),
      })
      .optional()
      .meta({
        description:
          'For a feed that gives shares instead of lengths: where 0 and 1 of its axes lie, in `unit`. An axis that is left out is a length.',
      }),
    quality: QualityScale.optional(),
  })
  .meta({ description: 'How positions arrive at this input.' });

/** What a time tag of an input says. */
export const TIME_TAGS = ['due', 'measured'] as const;

const allow = z
  .union([z.literal('any'), z.array(z.union([Address4, z.cidrv4()])).min(1)])
  .default('any')
  .meta({ description: 'Who may send: addresses or ranges such as 10.0.0.0/24, or `any`.' });

/** Where a tracking system stands. */
const frame = {
  origin: Point3.default([0, 0, 0]).meta({
    description: "Where the tracking system's origin is in the stage frame, metres.",
  }),
  turn: z
    .union([
      Degrees,
      z.strictObject({
        x: Degrees.default(0).meta({ description: 'Turn about x, the first, degrees.' }),
        y: Degrees.default(0).meta({ description: 'Turn about y, the second, degrees.' }),
        z: Degrees.default(0).meta({ description: 'Turn about z, the last, degrees.' }),
      }),
    ])
    .default(0)
    .meta({
      description:
        'How far the tracking frame is turned against the stage frame: degrees, anticlockwise seen from above; ' +
        'or, where it is tilted as well, the turns about the stage axes x, then y, then z, each anticlockwise ' +
        'seen from the tip of the axis.',
    }),
  scale: z.number().min(0.5).max(2).default(1).meta({
    description:
      'Metres on the stage in a metre of the tracking system; other than 1 only where its own survey is off.',
  }),
};

const OscInput = z.strictObject({
  protocol: z.literal('osc').default('osc').meta({ description: 'OSC 1.0 over UDP.' }),
  listen: Address4.default('127.0.0.1').meta({
    description: 'Address of the interface to listen on: that of the tracking network.',
  }),
  port: z.int().min(1).max(65535).meta({ description: 'UDP port.' }),
  allow,
  maxDatagram: z
    .int()
    .min(16)
    .max(MAX_DATAGRAM_BYTES)
    .default(DEFAULT_OSC_LIMITS.maxDatagramBytes)
    .meta({
      description: 'Longer datagrams are refused, bytes. 1472 fills one Ethernet frame.',
    }),
  routes: z.array(Route).min(1).meta({
    description: 'The addresses at which positions arrive; the first that fits a message is taken.',
  }),
  timeTags: z.enum(TIME_TAGS).default('due').meta({
    description:
      'What an OSC time tag says: `due`, when the message is to take effect, as OSC 1.0 has it; or `measured`, when the position was measured, by the clock of the tracking system, which is followed. Without a tag, and with `due`, a position is `tracking.sensorLatency` old when it arrives.',
  }),
  ...frame,
});

const PsnInput = z.strictObject({
  protocol: z.literal('psn').meta({ description: 'PosiStageNet 2.03 over UDP.' }),
  interface: z.string().min(1).max(60).default('127.0.0.1').meta({
    description: 'Address or name of the interface to listen on: that of the tracking network.',
  }),
  group: z
    .union([z.literal('none'), Address4])
    .default(PSN_GROUP)
    .meta({
      description:
        'Multicast group that is joined there, and again after the interface was away; `none` where the server sends to the address of this machine.',
    }),
  port: z.int().min(1).max(65535).default(PSN_PORT).meta({ description: 'UDP port.' }),
  allow,
  maxDatagram: z.int().min(16).max(MAX_DATAGRAM_BYTES).default(PSN_MAX_BYTES).meta({
    description: 'Longer datagrams are refused, bytes. The standard has 1500 at most.',
  }),
  axes: Axes.meta({
    description:
      'Which axis of the feed is stage x, y and z, each with its sign. The standard has x to the right, y up and z in depth, and does not say whose right: `[x, z, y]` where x goes to stage left and z upstage. Try it with `lampwright networks` and somebody walking.',
  }),
  quality: QualityScale.default([0, 1]),
  stamps: z.enum(PSN_STAMPS).default('if sent').meta({
    description:
      "A tracker's own timestamp says when it was measured, by the clock of the tracking system, which is followed. `if sent`: where it comes. `required`: a position without one is a fault of the sensor's clock. `ignored`: positions are `tracking.sensorLatency` old when they arrive, as they are without one.",
  }),
  ...frame,
});

const Input = z.discriminatedUnion('protocol', [OscInput, PsnInput]);

const Orientation = z
  .union([
    z.enum(['hanging', 'standing']),
    z.strictObject({
      x: Degrees.default(0).meta({ description: 'Turn about x, the first, degrees.' }),
      y: Degrees.default(0).meta({ description: 'Turn about y, the second, degrees.' }),
      z: Degrees.default(0).meta({ description: 'Turn about z, the last, degrees.' }),
    }),
  ])
  .default('hanging')
  .meta({
    description:
      '`hanging` (base up, front to the audience), `standing` (turned half round about x), or the turns in ' +
      'degrees from hanging about the stage axes x, then y, then z, anticlockwise seen from the tip of the axis.',
  });

const Fixture = z.strictObject({
  label: Label.optional(),
  profile: Name.meta({ description: 'Its kind: one of `profiles`, or one that is built in.' }),
  mode: Name.optional().meta({
    description: 'Which of the modes of its profile is set on it; needed where there are several.',
  }),
  universe: z.int().min(0).max(63999).optional().meta({
    description: 'Universe of the show. Required, but of a fixture that is `unpatched`.',
  }),
  address: z.int().min(1).max(512).optional().meta({
    description: 'First slot, counted from 1. Required, but of a fixture that is `unpatched`.',
  }),
  unpatched: z
    .boolean()
    .default(false)
    .meta({
      description:
        'It hangs, and is not patched yet: it is listed by `check` and sent nothing, and no mapping may use it. Its ' +
        'profile may be `placeholder`, as long as nobody knows what its slots do.',
    }),
  position: Point3.optional().meta({
    description: 'Where its pan and tilt axes cross, stage frame, metres. Needed to aim.',
  }),
  orientation: Orientation,
  trim: z
    .strictObject({
      tilt: z.number().min(-20).max(20).default(0).meta({
        description: 'Added to the tilt that the head is sent to get the one that it has, degrees.',
      }),
    })
    .prefault({})
    .meta({
      description:
        'Where the zero of the head is off its mark. A pan that is off is a matter of `orientation`.',
    }),
  lag: z.number().min(0).max(2).default(0).meta({
    description:
      'From its slots to its movement, seconds: measured, or left at 0. A head that follows is sent where the performer will be by then.',
  }),
  base: Look.prefault({}).meta({
    description: 'What it shows while no mapping acts: attribute values in physical units.',
  }),
  safe: Look.optional().meta({
    description: 'Its part of the safe look. Attributes left out take their base value.',
  }),
  cells: z
    .strictObject({
      from: Point3.optional().meta({ description: 'Where the first cell is, metres.' }),
      to: Point3.optional().meta({ description: 'Where the last cell is, metres.' }),
    })
    .optional()
    .meta({
      description:
        'Each cell is a light of its own: with `bar`, those that the `copies` of its profile list are `bar-1`, `bar-2` and so on, `bar` is the group of them in order, and `bar-body` what they share. `{}` takes them apart without saying where they are.',
      examples: [{ from: [2, 3, 5], to: [5, 3, 5] }],
    }),
  ground: Ground.optional(),
  hazard: HazardKey.optional(),
  calibrated: z.iso.date('a day such as 2026-11-20').optional().meta({
    description:
      'The day on which its position and orientation were last measured here, as 2026-11-20; `lampwright preflight` asks for it where a head aims.',
  }),
  fade: Seconds.optional().meta({
    description: "Live to safe for this fixture, seconds, instead of the watchdog's fades.",
  }),
});

export const ShowFileSchema = z
  .strictObject({
    lampwright: z.literal(FORMAT_VERSION).meta({
      description:
        'Version of this file format. An older one is read, and `check` says how to write what changed.',
    }),
    name: z.string().min(1).max(60).overwrite(printable).meta({ description: 'Name of the show.' }),
    stage: Stage,
    inputs: z.record(Name, Input).meta({ description: 'Where positions come from, by name.' }),
    tracking: Tracking,
    performers: z.record(Name, Performer).meta({ description: 'Who is tracked, by name.' }),
    spares: z.array(Tracker).default([]).meta({
      description:
        'Trackers that lie ready and may be given to a performer while the show runs; others are unknown.',
    }),
    anchors: z.record(Name, Anchor).default({}).meta({
      description:
        'The anchors of the tracking system, by name. The tracking system has its own list; this one is for `lampwright plan`.',
    }),
    ranging: Ranging,
    obstacles: z.record(Name, Obstacle).default({}).meta({
      description: 'What the radio does not pass: metal flats, walls, tanks; by name.',
    }),
    zones: z.record(Name, Zone).default({}).meta({ description: 'Places on the stage, by name.' }),
    exits: z.record(Name, Exit).default({}).meta({
      description:
        'Where performers leave the stage, by name. Who was last believed in one of them and falls silent is off stage, and not lost. It may reach outside of the stage.',
    }),
    keepOut: z.record(Name, KeepOut).default({}).meta({
      description:
        'Parts of the room into which no lit beam goes (audience, pit, a camera, a mirror), by name: a head goes dark before its beam would touch one, and passes in the dark.',
    }),
    groups: Groups,
    signals: Signals,
    conditions: Conditions,
    palettes: Palettes,
    profiles: z.record(Name, ProfileEntry).default({}).meta({
      description:
        'Kinds of fixture, by name: a block here, or a file. `dimmer`, `rgb` and `moving-head` are built in.',
    }),
    fixtures: z.record(Name, Fixture).meta({ description: 'The lights, by name.' }),
    mappings: z.array(Mapping).default([]).meta({
      description: 'What a position does to the light.',
    }),
    masters: Masters,
    cues: z.record(Name, Cue).default({}).meta({
      description:
        'The cues of the show, by name, in order: which mappings act, with base and safe values of their own. Without cues every mapping acts all the time. The first is on at the start.',
    }),
    receivers: z.record(Name, Receiver).default({}).meta({
      description:
        'Who takes OSC messages and positions from this show (sound, video, a desk), by name.',
    }),
    actions: z.array(Action).default([]).meta({
      description: 'What is told to the receivers, and when.',
    }),
    positions: z.record(Name, Positions).default({}).meta({
      description:
        'Where the positions of performers are told to others (sound, video), by name, smoothed and predicted.',
    }),
    watchdog: Watchdog,
    limits: Limits,
    reload: z.number().min(0).max(60).default(2).meta({
      description:
        'How long the light takes to become that of this file when it is loaded while the show runs, seconds. With another patch, other outputs or other inputs it goes by way of the safe look instead.',
    }),
    operator: Operator.optional(),
    desk: Desk,
    orders: DeskOrders,
    outputs: z.record(Name, Output).default({}).meta({
      description: 'Where levels are sent, by name. None are needed while no fixture is patched.',
    }),
  })
  .meta({ title: 'lampwright show file' });

export type ShowFile = z.output<typeof ShowFileSchema>;
export type FixtureFile = z.output<typeof Fixture>;
export type { LookFile } from './look.js';
export type ZoneFile = z.output<typeof Zone>;
export type KeepOutFile = z.output<typeof KeepOut>;

/** The performer with whom a zone moves; undefined: it stays. */
export function carrierOf(zone: ZoneFile | undefined): string | undefined {
  return zone?.circle !== undefined && 'around' in zone.circle ? zone.circle.around : undefined;
}

export type { OutputFile } from './outputs.js';
export type InputFile = z.output<typeof Input>;
export type RouteFile = z.output<typeof Route>;
export type TrackerFile = ShowFile['spares'][number];
