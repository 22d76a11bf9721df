import { z } from 'zod';
import { printable } from '../../stage/printable.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../tracking/options.js';
import { wearerFields } from './anchors.js';
import { Label } from './parts.js';

/** Performers, their trackers, and how positions are smoothed and predicted. */

const track = DEFAULT_TRACKING_OPTIONS;

/** The best optical systems scatter by about a millimetre; below that a figure is a slip of the unit. */
const LEAST_NOISE_M = 0.001;

const TrackerNumber = z.int().min(0);
const TrackerWord = z
  .string()
  .min(1)
  .max(64)
  .refine(
    word => printable(word) === word,
    'an identifier without control characters or line breaks',
  );
/** On a body, with what a tall hat or a pole adds. */
const OnTheBody = z.number().min(-3).max(3).default(0);

export const Tracker = z
  .union([
    TrackerNumber,
    TrackerWord,
    z.strictObject({
      id: z.union([TrackerNumber, TrackerWord]).meta({
        description: 'Its identifier, as it stands in the OSC address.',
      }),
      offset: z
        .strictObject({
          forward: OnTheBody.meta({ description: 'In front of the body, metres.' }),
          left: OnTheBody.meta({ description: "To the body's own left, metres." }),
          up: OnTheBody.meta({ description: 'Above, metres.' }),
        })
        .prefault({})
        .meta({
          description:
            "From the performer's own point, which the light follows, to the tracker. `up` is exact; the other two turn with the body, whose heading is taken from its movement.",
        }),
      noise: z.number().min(LEAST_NOISE_M).max(10).optional().meta({
        description:
          'How far its own reports scatter, metres, instead of `tracking.noise`: for a tracker of another kind, or worn where the body hides it.',
      }),
    }),
  ])
  .transform(given => {
    const block = typeof given === 'object' ? given : { id: given };
    return {
      offset: { forward: 0, left: 0, up: 0 },
      noise: undefined,
      ...block,
      id: String(block.id),
    };
  });

export const Performer = z.strictObject({
  label: Label.optional().meta({
    description: 'How people call them; the name where it is left out.',
  }),
  trackers: z.array(Tracker).min(1).meta({
    description:
      'The trackers they wear: identifiers as they stand in the OSC address, or blocks that say how each is worn.',
  }),
  ...wearerFields,
});

export const Tracking = z
  .strictObject({
    noise: z.number().min(LEAST_NOISE_M).max(10).default(track.horizontal.whiteM).meta({
      description:
        'How far reports scatter from one to the next (standard deviation), metres. The default suits radio; a cleaner sensor is followed closer with less, a worse one held steadier with more.',
    }),
    reacquire: z.number().min(0.1).max(10).default(track.reacquireS).meta({
      description:
        'For how long improbable reports must insist on another place until the performer is taken to be there, seconds.',
    }),
    frozen: z.number().min(1).max(3600).default(track.frozenS).meta({
      description:
        'The longest that reports may repeat to the last bit, whatever the habit of the tracker, seconds; not believed at all after twice as long. A tracker that was never seen to repeat itself is doubted after half a second.',
    }),
    sensorLatency: z.number().min(0).max(2).default(0).meta({
      description:
        'Age of a position when it arrives, seconds; the light is predicted ahead by it.',
    }),
    outputLatency: z.number().min(0).max(2).default(0.03).meta({
      description: 'From the tick to the light: network, gateway and lamp, seconds.',
    }),
  })
  .prefault({})
  .meta({ description: 'How positions are smoothed and predicted.' });
