import { z } from 'zod';
import { MOST_FLASHES_PER_SECOND } from '../../safety/flash.js';
import { HAZARD_CLASSES, REFUSED_CLASSES } from '../../safety/hazard.js';
import { DEFAULT_WATCHDOG } from '../../safety/options.js';
import { DEFAULT_LIMITS, SHORTEST_RANGE_S } from '../../safety/output-limiter.js';
import { Address4, NameOf, Seconds } from './parts.js';

function timed(defaults: { afterS: number; fadeS: number }) {
  return {
    after: Seconds.default(defaults.afterS).meta({
      description: 'How long it must last before the light reacts, seconds.',
    }),
    fade: Seconds.default(defaults.fadeS).meta({
      description: 'How long intensity takes from live to safe, seconds.',
    }),
  };
}

const w = DEFAULT_WATCHDOG;
export const Watchdog = z
  .strictObject({
    trackerSilent: z.strictObject(timed(w.trackerSilent)).prefault({}).meta({
      description: 'None of the trackers of a performer is heard.',
    }),
    confidenceLow: z
      .strictObject({
        below: z.number().min(0).max(1).default(w.confidenceLow.below).meta({
          description: 'Threshold of confidence, 0 to 1.',
        }),
        ...timed(w.confidenceLow),
      })
      .prefault({})
      .meta({ description: 'Positions arrive, but cannot be trusted.' }),
    outOfBounds: z
      .strictObject({
        margin: z.number().min(0).max(100).default(w.outOfBounds.marginM).meta({
          description: 'How far outside the stage still counts as inside, metres.',
        }),
        ...timed(w.outOfBounds),
      })
      .prefault({})
      .meta({ description: 'A performer is more than `margin` metres outside the stage.' }),
    sensorClockGone: z.strictObject(timed(w.sensorClockGone)).prefault({}).meta({
      description:
        'At an input with `timeTags: measured` or a `stamp` argument, reports carry no time of measurement, or one that is much too old.',
    }),
    frozen: z.strictObject(timed(w.frozen)).prefault({}).meta({
      description:
        'Positions repeat to the last bit for longer than is normal for the tracker; see `tracking.frozen`.',
    }),
    operatorStop: z
      .strictObject({
        fade: Seconds.default(w.operatorStop.fadeS).meta({
          description: 'How long intensity takes from live to safe, seconds.',
        }),
      })
      .prefault({})
      .meta({ description: 'An operator has stopped a performer, or everybody.' }),
    deskLost: z.strictObject(timed(w.deskLost)).prefault({}).meta({
      description: 'Nothing is heard from the desk; see `operator.desk`.',
    }),
    jumped: z
      .strictObject({
        fade: Seconds.default(w.jumped.fadeS).meta({
          description: 'How long intensity takes from live to dark, seconds.',
        }),
      })
      .prefault({})
      .meta({ description: 'A performer reappears at a place that they cannot have walked to.' }),
    feedSilent: z.strictObject(timed(w.feedSilent)).prefault({}).meta({
      description: 'No positions arrive at all.',
    }),
    engineSilent: z
      .strictObject({
        ...timed(w.engineSilent),
        after: Seconds.optional().meta({
          description:
            'How long it must last before the light reacts, seconds; at least 2 periods of the fastest output. Default: 0.25, or 2.5 periods if that is longer (an output with a `rate` below 10).',
        }),
      })
      .prefault({})
      .meta({ description: 'The engine has died, hangs or is late. The supervisor decides.' }),
    rearm: Seconds.default(w.rearmS).meta({
      description:
        'How long everything must be well again before the light starts to return, seconds.',
    }),
    return: Seconds.default(w.returnS).meta({ description: 'Fade from safe to live, seconds.' }),
    move: Seconds.default(w.moveS).meta({
      description:
        'How long a head may take for the dark move between its live and its safe aim, seconds.',
    }),
    turn: Seconds.default(w.turnS).meta({
      description:
        'Fade out, and in again, of a head that has to move in the dark during the show, seconds: its pan is at its end stop, or a zone sets another aim.',
    }),
  })
  .prefault({})
  .meta({ description: 'When the light stops trusting the tracking, and how fast it fades.' });

const limits = DEFAULT_LIMITS;
const RangeTime = z.number().min(SHORTEST_RANGE_S).max(60);
export const Limits = z
  .strictObject({
    flashes: z.int().min(1).max(MOST_FLASHES_PER_SECOND).default(limits.flashesPerSecond).meta({
      description:
        'Flashes a second over all fixtures together, 1 to 3. More is not allowed (WCAG 2.3.1).',
    }),
    intensity: RangeTime.default(limits.intensityS).meta({
      description: 'Shortest time for an intensity over its whole range, seconds.',
    }),
    movement: RangeTime.default(limits.movementS).meta({
      description: 'The same for pan and tilt.',
    }),
    other: RangeTime.default(limits.otherS).meta({
      description:
        'The same for colour, zoom and everything else that fades. Wheels and shutters change at once.',
    }),
  })
  .prefault({})
  .meta({
    description:
      'How fast levels may change on the wire, in every state: start, show, loss, recovery, end.',
  });

export const HazardKey = z.enum([...HAZARD_CLASSES, ...REFUSED_CLASSES]).meta({
  description:
    'What it can do to people: `ordinary` light, `atmospheric` (haze, fog), `strobe` or `laser`. Flying, ' +
    "rigging, lifts, scenery, pyrotechnics and flame are refused: they belong to the venue's safety staff " +
    'and to licensed people, on their own controls.',
});

/** What the loss of the desk does. */
export const DESK_ROLES = ['ignored', 'reported', 'required'] as const;
/** A desk repeats a held button several times a second; after two missed repeats it counts as released. Common practice. */
const DEFAULT_ENABLE_TIMEOUT_S = 1;

/** Of one machine for all outputs; or, where pairs of machines share the outputs, by output. */
const OfPair = z.union([Address4, z.record(NameOf, Address4)]);

export const Operator = z
  .strictObject({
    listen: Address4.default('127.0.0.1').meta({
      description: "Address of the interface to listen on: that of the desk's network.",
    }),
    port: z.int().min(1).max(65535).meta({ description: 'UDP port.' }),
    allow: z
      .array(z.union([Address4, z.cidrv4()]))
      .min(1)
      .default(['127.0.0.1'])
      .meta({
        description: 'Who may send: addresses or ranges such as 10.0.0.0/24.',
      }),
    standby: OfPair.optional().meta({
      description:
        'With two machines: address at which the standby takes orders, at the same port; where pairs share the outputs (`run --outputs`), one for each output: `{ left: 10.0.0.12, right: 10.0.0.22 }`. The main machine tells it once a second who is stopped or off stage, which cue is on, which mappings are off, which heads are pinned to whom, and which show it runs. The standby must `allow` the address of the main machine.',
    }),
    main: OfPair.optional().meta({
      description:
        'With two machines: address at which the main machine takes orders, at the same port; or one for each output, like `standby`. While the main machine comes back, a standby that has the light tells it once a second who is stopped or off stage, so that nobody who was stopped meanwhile is lit; and all the while which show it runs. The main machine must `allow` the address of the standby.',
    }),
    enableTimeout: z.number().min(0.1).max(5).default(DEFAULT_ENABLE_TIMEOUT_S).meta({
      description:
        'After so many seconds without a repeat, an enable of a hazardous output counts as released.',
    }),
    desk: z.enum(DESK_ROLES).default('ignored').meta({
      description:
        'What happens when nothing is heard from the desk for `watchdog.deskLost.after`: it is `ignored`, or `reported` in the log; or, if the desk is `required`, the light of all performers goes to its safe values and stays there until the desk is heard.',
    }),
  })
  .meta({
    description:
      'Orders from a desk or an operator, as OSC: /lampwright/stop and /lampwright/resume, /lampwright/off and /lampwright/on (everybody, or the performers named), /lampwright/enable/atmospheric, .../strobe and .../laser (to be repeated), /lampwright/cue (a name), /lampwright/cue/next and .../back, /lampwright/pin (a head, a performer) and /lampwright/unpin (a head), /lampwright/desk (heartbeat).',
  });
