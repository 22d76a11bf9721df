import { z } from 'zod';
import { MOST_FLASHES_PER_SECOND } from '../../safety/flash.js';
import { HAZARD_CLASSES, REFUSED_CLASSES } from '../../safety/hazard.js';
import { DEFAULT_WATCHDOG } from '../../safety/options.js';
import { DEFAULT_LIMITS, SHORTEST_RANGE_S } from '../../safety/output-limiter.js';
import { Address4, Seconds } from './parts.js';

function timed(defaults: { afterS: number; fadeS: number }) {
  return {
    after: Seconds.default(defaults.afterS).meta({
      description: 'How long it has to last before it acts, seconds.',
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
          description: 'Confidence under which it counts, 0 to 1.',
        }),
        ...timed(w.confidenceLow),
      })
      .prefault({})
      .meta({ description: 'Positions arrive, but are not to be believed.' }),
    outOfBounds: z
      .strictObject({
        margin: z.number().min(0).max(100).default(w.outOfBounds.marginM).meta({
          description: 'How far outside is still taken for inside, metres.',
        }),
        ...timed(w.outOfBounds),
      })
      .prefault({})
      .meta({ description: 'A performer is farther than `margin` metres outside of the stage.' }),
    sensorClockGone: z.strictObject(timed(w.sensorClockGone)).prefault({}).meta({
      description:
        'At an input with `timeTags: measured` or a `stamp` argument, reports carry no time of measurement, or come far later than it allows.',
    }),
    frozen: z.strictObject(timed(w.frozen)).prefault({}).meta({
      description:
        'Positions repeat to the last bit for longer than the tracker ever did by itself; see `tracking.frozen`.',
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
      .meta({ description: 'A performer reappears where they cannot have walked to.' }),
    feedSilent: z.strictObject(timed(w.feedSilent)).prefault({}).meta({
      description: 'No position of anybody arrives.',
    }),
    engineSilent: z
      .strictObject({
        ...timed(w.engineSilent),
        after: Seconds.optional().meta({
          description:
            'How long it has to last before it acts, seconds; 2 periods of the fastest output at least. Default: 0.25, or 2.5 periods where that is longer (an output with a `rate` below 10).',
        }),
      })
      .prefault({})
      .meta({ description: 'The engine has died, hangs or is late; decided by the supervisor.' }),
    rearm: Seconds.default(w.rearmS).meta({
      description: 'How long all has to be well before light is trusted again, seconds.',
    }),
    return: Seconds.default(w.returnS).meta({ description: 'Safe to live, seconds.' }),
    move: Seconds.default(w.moveS).meta({
      description: 'How long a head takes between its live and its safe aim, in the dark, seconds.',
    }),
    turn: Seconds.default(w.turnS).meta({
      description:
        'How long the light of a head takes out, and in again, where the head has to turn in the dark in mid-show: pan at its end, another aim set by a zone. Seconds.',
    }),
  })
  .prefault({})
  .meta({ description: 'When the light stops believing the tracking, and how fast it acts.' });

const limits = DEFAULT_LIMITS;
const RangeTime = z.number().min(SHORTEST_RANGE_S).max(60);
export const Limits = z
  .strictObject({
    flashes: z.int().min(1).max(MOST_FLASHES_PER_SECOND).default(limits.flashesPerSecond).meta({
      description:
        'Flashes a second over all fixtures together, 1 to 3 (WCAG 2.3.1). More can not be had.',
    }),
    intensity: RangeTime.default(limits.intensityS).meta({
      description:
        'Shortest time in which an intensity goes from one end of its range to the other, seconds.',
    }),
    movement: RangeTime.default(limits.movementS).meta({
      description: 'The same for pan and tilt.',
    }),
    other: RangeTime.default(limits.otherS).meta({
      description:
        'The same for colour, zoom and whatever else has a scale. Wheels and shutters go at once.',
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
    standby: Address4.optional().meta({
      description:
        'Of two machines: where the standby takes orders, at the same port. The main machine tells it there once a second which cue is on, and which heads are pinned to whom; the address of the main machine has to be among those that the standby allows.',
    }),
    enableTimeout: z.number().min(0.1).max(5).default(DEFAULT_ENABLE_TIMEOUT_S).meta({
      description:
        'An enable of a hazardous output that is not repeated for so long counts as released, seconds.',
    }),
    desk: z.enum(DESK_ROLES).default('ignored').meta({
      description:
        'What it means when nothing is heard from the desk for `watchdog.deskLost.after`: `ignored`; `reported` in the log; or `required`: the light of all performers goes to its safe values, and stays there until the desk is heard.',
    }),
  })
  .meta({
    description:
      'Orders from a desk or an operator, as OSC: /lampwright/stop and /lampwright/resume, /lampwright/off and /lampwright/on (everybody, or the performers named), /lampwright/enable/atmospheric, .../strobe and .../laser (to be repeated), /lampwright/cue (a name), /lampwright/cue/next and .../back, /lampwright/pin (a head, a performer) and /lampwright/unpin (a head), /lampwright/desk (heartbeat).',
  });
