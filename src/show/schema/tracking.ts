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
        description: 'Its identifier, as in the OSC address.',
      }),
      offset: z
        .strictObject({
          forward: OnTheBody.meta({ description: 'Forward, metres.' }),
          left: OnTheBody.meta({ description: "To the performer's left, metres." }),
          up: OnTheBody.meta({ description: 'Up, metres.' }),
        })
        .prefault({})
        .meta({
          description:
            'Where the tracker sits, measured from the point of the performer that the light follows. `up` is exact; the other two turn with the body, whose heading is taken from its movement.',
        }),
      noise: z.number().min(LEAST_NOISE_M).max(10).optional().meta({
        description:
          'How far the reports of this tracker scatter, metres, instead of `tracking.noise`: for a tracker of another type, or one worn where the body blocks it.',
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
    description: 'What people call them; by default their name.',
  }),
  trackers: z.array(Tracker).min(1).meta({
    description:
      'The trackers they wear: identifiers as in the OSC address, or blocks that also say how each is worn.',
  }),
  ...wearerFields,
});

export const Tracking = z
  .strictObject({
    noise: z.number().min(LEAST_NOISE_M).max(10).default(track.horizontal.whiteM).meta({
      description:
        'How far reports scatter from one to the next (standard deviation), metres. The default suits radio. Less makes the light follow a better sensor more closely; more makes it steadier with a worse one.',
    }),
    reacquire: z.number().min(0.1).max(10).default(track.reacquireS).meta({
      description:
        'How long reports must keep giving another, improbable place before the performer is taken to be there, seconds.',
    }),
    frozen: z.number().min(1).max(3600).default(track.frozenS).meta({
      description:
        'How long reports may repeat to the last bit, however often the tracker normally does, seconds; after twice as long they are not trusted at all. A tracker that was never seen to repeat itself is doubted after half a second.',
    }),
    sensorLatency: z.number().min(0).max(2).default(0).meta({
      description:
        'Age of a position when it arrives, seconds. The light is predicted ahead by as much.',
    }),
    outputLatency: z.number().min(0).max(2).default(0.03).meta({
      description: 'Delay from the tick to the light, seconds: network, gateway and lamp.',
    }),
  })
  .prefault({})
  .meta({ description: 'How positions are smoothed and predicted.' });
