import { z } from 'zod';
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
import {
  Address4,
  Axes,
  Degrees,
  Extent,
  Label,
  Name,
  Point3,
  Range,
  Seconds,
  Unit,
} from './parts.js';
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
    x: Extent.meta({ description: 'From stage right to stage left, metres: `[from, to]`.' }),
    y: Extent.meta({ description: 'From downstage to upstage, metres.' }),
    z: Extent.default([-0.5, 3]).meta({
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

const QualityScale = Range.meta({
  description:
    'The worst and the best quality value of the feed: `[0, 100]` for per cent; `[3, 0]` for an error in metres, where 3 m or more counts as worthless.',
});

const Route = z
  .strictObject({
    address: z.string().meta({
      description:
        'OSC address; `{tracker}` stands for the name of the tracker: a whole part of the address, or some of one, as in `/tracker{tracker}/position`.',
    }),
    arguments: z
      .array(z.enum(ARGUMENT_NAMES))
      .min(1)
      .optional()
      .meta({
        description:
          'What the arguments are, in order (`[x, y, z, quality?]`; with `each`, none). A `?` marks those at the end that may be left out; ' +
          '`tracker` is for feeds that name the tracker in an argument; `quality` is 0 to 1, or as `quality` says; `battery` is the charge ' +
          'left, 0 to 1, and is shown and checked before the doors; `stamp` is when ' +
          'the position was measured, by the clock of the tracking system, which is followed: seconds as ' +
          'float or (better) double, microseconds as int64, or an OSC time tag. ' +
          'A route with fewer than two of x, y and z is part of a position: one axis, or the quality, in a message of its own. ' +
          'Such routes are put together into positions.',
      }),
    each: z.array(z.enum(ARGUMENT_NAMES)).min(3).optional().meta({
      description:
        'For several trackers in one message: the group of arguments that repeats after `arguments`, once per tracker, such as `[tracker, x, y, z]`.',
    }),
    unit: Unit,
    axes: Axes.default(['x', 'y', 'z']).meta({
      description:
        'Which axis of the feed is stage x, y and z, each with its sign: `[x, -z, y]` for a feed ' +
        'with y up and z towards the audience.',
    }),
    box: z
      .strictObject({
        x: Range.optional().meta({ description: 'The x that 0 and 1 are.' }),
        y: Range.optional().meta({ description: 'The y that 0 and 1 are.' }),
        z: Range.optional().meta({ description: 'The z that 0 and 1 are.' }),
      })
      .optional()
      .meta({
        description:
          'For a feed that sends 0 to 1 instead of lengths: which coordinates 0 and 1 are, in `unit`. An axis that is left out is a length.',
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

const Turns = z.strictObject({
  x: Degrees.default(0).meta({ description: 'Turn about x, the first, degrees.' }),
  y: Degrees.default(0).meta({ description: 'Turn about y, the second, degrees.' }),
  z: Degrees.default(0).meta({ description: 'Turn about z, the last, degrees.' }),
});

/** Where a tracking system stands. */
const frame = {
  origin: Point3.default([0, 0, 0]).meta({
    description: "Where the tracking system's origin is in the stage frame, metres.",
  }),
  turn: z
    .union([Degrees, Turns])
    .default(0)
    .meta({
      description:
        'How far the tracking frame is turned relative to the stage frame: degrees, anticlockwise seen from above; ' +
        'or, if it is tilted as well, the turns about the stage axes x, then y, then z, each anticlockwise ' +
        'seen from the tip of the axis.',
    }),
  scale: z.number().min(0.5).max(2).default(1).meta({
    description:
      'Metres on the stage for one metre of the tracking system. Leave it at 1 unless the survey of the tracking system is off.',
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
    description:
      'The OSC addresses at which positions arrive; the first that matches a message is used.',
  }),
  timeTags: z.enum(TIME_TAGS).default('due').meta({
    description:
      'What an OSC time tag means: `due`, when the message is to take effect, as in OSC 1.0; or `measured`, when the position was measured, by the clock of the tracking system, which is followed. With `due`, and without a tag, a position is taken to be `tracking.sensorLatency` old when it arrives.',
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
        'Multicast group to join there; it is joined again when the interface comes back. `none` if the server sends to the address of this machine.',
    }),
  port: z.int().min(1).max(65535).default(PSN_PORT).meta({ description: 'UDP port.' }),
  allow,
  maxDatagram: z.int().min(16).max(MAX_DATAGRAM_BYTES).default(PSN_MAX_BYTES).meta({
    description: 'Longer datagrams are refused, bytes. The standard allows 1500 at most.',
  }),
  axes: Axes.meta({
    description:
      'Which axis of the feed is stage x, y and z, each with its sign. The standard has x to the right, y up and z in depth, but does not say whose right: `[x, z, y]` if x goes to stage left and z upstage. Try it with `lampwright networks` while somebody walks.',
  }),
  quality: QualityScale.default([0, 1]),
  stamps: z.enum(PSN_STAMPS).default('if sent').meta({
    description:
      "What to do with a tracker's own timestamp, which says when it was measured, by the clock of the tracking system. `if sent`: use it when there is one. `required`: a position without one is a fault of the sensor's clock. `ignored`: don't use it. A position without a timestamp is taken to be `tracking.sensorLatency` old when it arrives.",
  }),
  ...frame,
});

const Input = z.discriminatedUnion('protocol', [OscInput, PsnInput]);

const Orientation = z
  .union([z.enum(['hanging', 'standing']), Turns])
  .default('hanging')
  .meta({
    description:
      '`hanging` (base up, front to the audience), `standing` (the same turned by 180 about x), or the turns in ' +
      'degrees from hanging about the stage axes x, then y, then z, anticlockwise seen from the tip of the axis.',
  });

const Fixture = z.strictObject({
  label: Label.optional(),
  profile: Name.meta({ description: 'Its type: one of `profiles`, or a built-in one.' }),
  mode: Name.optional().meta({
    description: 'Which mode of its profile is set on the fixture; needed if there are several.',
  }),
  universe: z.int().min(0).max(63999).optional().meta({
    description: 'Universe of the show. Required unless the fixture is `unpatched`.',
  }),
  address: z.int().min(1).max(512).optional().meta({
    description: 'First slot, counted from 1. Required unless the fixture is `unpatched`.',
  }),
  unpatched: z
    .boolean()
    .default(false)
    .meta({
      description:
        'The fixture hangs but is not patched yet: `check` lists it, nothing is sent to it, and no mapping may use it. Its ' +
        'profile may be `placeholder` until somebody knows what its slots do.',
    }),
  position: Point3.optional().meta({
    description: 'Where its pan and tilt axes cross, stage frame, metres. Needed to aim.',
  }),
  orientation: Orientation,
  trim: z
    .strictObject({
      tilt: z.number().min(-20).max(20).default(0).meta({
        description: 'Real tilt minus the tilt that is sent, degrees.',
      }),
    })
    .prefault({})
    .meta({
      description:
        'How far the zero of the head is off. Correct a pan that is off with `orientation`.',
    }),
  lag: z.number().min(0).max(2).default(0).meta({
    description:
      'Delay from a change of level to movement, seconds: a measured value, or 0. A following head is sent to where the performer will be by then.',
  }),
  base: Look.prefault({}).meta({
    description: 'Values while no mapping acts, in physical units.',
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
        'Makes each cell a light of its own. If the fixture is called `bar`, the cells that the `copies` of its profile list are `bar-1`, `bar-2` and so on; `bar` is the group of them in order, and `bar-body` is what they share. There is none where that is a Dimmer over cells of colour alone: it is held open, as each cell is dimmed for itself. `{}` does so without giving their places.',
      examples: [{ from: [2, 3, 5], to: [5, 3, 5] }],
    }),
  ground: Ground.optional(),
  hazard: HazardKey.optional(),
  calibrated: z.iso.date('a day such as 2026-11-20').optional().meta({
    description:
      'The day on which its position and orientation were last measured in this venue, such as 2026-11-20; `lampwright preflight` asks for it if the head aims.',
  }),
  fade: Seconds.optional().meta({
    description: "Live to safe for this fixture, seconds, instead of the watchdog's fades.",
  }),
});

export const ShowFileSchema = z
  .strictObject({
    lampwright: z.literal(FORMAT_VERSION).meta({
      description:
        'Version of this file format. Older versions are read too, and `check` says what to change.',
    }),
    name: z.string().min(1).max(60).overwrite(printable).meta({ description: 'Name of the show.' }),
    stage: Stage,
    inputs: z.record(Name, Input).meta({ description: 'Where positions come from, by name.' }),
    tracking: Tracking,
    performers: z.record(Name, Performer).meta({ description: 'Who is tracked, by name.' }),
    spares: z.array(Tracker).default([]).meta({
      description:
        'Spare trackers, which may be given to a performer while the show runs. Trackers listed nowhere are ignored and counted as unknown.',
    }),
    anchors: z.record(Name, Anchor).default({}).meta({
      description:
        'The anchors of the tracking system, by name. The tracking system has its own list; this one is for `lampwright plan`.',
    }),
    ranging: Ranging,
    obstacles: z.record(Name, Obstacle).default({}).meta({
      description: 'What blocks the radio, by name: metal flats, walls, tanks.',
    }),
    zones: z.record(Name, Zone).default({}).meta({ description: 'Places on the stage, by name.' }),
    exits: z.record(Name, Exit).default({}).meta({
      description:
        'Where performers leave the stage, by name. A performer who was last tracked in an exit and then falls silent is off stage, not lost. An exit may extend beyond the stage.',
    }),
    keepOut: z.record(Name, KeepOut).default({}).meta({
      description:
        'Parts of the room that no lit beam may enter (audience, pit, a camera, a mirror), by name: a head goes dark before its beam would touch one, and moves through it in the dark.',
    }),
    groups: Groups,
    signals: Signals,
    conditions: Conditions,
    palettes: Palettes,
    profiles: z.record(Name, ProfileEntry).default({}).meta({
      description:
        'Types of fixture, by name: a block here, or a file. `dimmer`, `rgb` and `moving-head` are built in.',
    }),
    fixtures: z.record(Name, Fixture).meta({ description: 'The lights, by name.' }),
    mappings: z.array(Mapping).default([]).meta({
      description: 'What a position does to the light.',
    }),
    masters: Masters,
    cues: z.record(Name, Cue).default({}).meta({
      description:
        'The cues of the show, by name, in order: which mappings act, and base and safe values of its own. The show starts in the first cue. Without cues every mapping acts all the time.',
    }),
    receivers: z.record(Name, Receiver).default({}).meta({
      description:
        'Receivers of OSC messages and positions from this show (sound, video, a desk), by name.',
    }),
    actions: z.array(Action).default([]).meta({
      description: 'What is sent to the receivers, and when.',
    }),
    positions: z.record(Name, Positions).default({}).meta({
      description:
        'Positions of performers for other systems (sound, video), smoothed and predicted, by name.',
    }),
    watchdog: Watchdog,
    limits: Limits,
    reload: z.number().min(0).max(60).default(2).meta({
      description:
        'Crossfade to this file when it is loaded while the show runs, seconds. If its name, patch, outputs or inputs (`operator` too, but for `allow`) differ, the light fades to the safe look first instead.',
    }),
    operator: Operator.optional(),
    desk: Desk,
    orders: DeskOrders,
    outputs: z.record(Name, Output).default({}).meta({
      description: 'Where levels are sent, by name. Needed as soon as a fixture is patched.',
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
